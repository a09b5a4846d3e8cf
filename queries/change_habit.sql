-- Question:   how many dentures of each patient, site and period show one habit, of those that can be assessed?
-- Unit:       one row per patient, site and period
-- Parameters: none; the habit's column is filled in; reads mix_rows and mix_cells
-- Columns:    as change_outcome: y counts dentures with the habit, e_e6 dentures assessed, in millionths
-- Order:      none; readers state their own
CREATE OR REPLACE TEMP TABLE change_rows AS
SELECT m.patient_no, c.place, count(*) AS n, count(*) FILTER (l.{{.}}) AS y, 1000000 * count(*) AS e_e6
FROM linked_dentures l
JOIN mix_rows m USING (denture_no)
JOIN mix_cells c USING (cell)
WHERE l.{{.}} IS NOT NULL AND c.place > 0
GROUP BY m.patient_no, c.place
