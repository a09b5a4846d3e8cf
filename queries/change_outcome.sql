-- Question:   what did each denture bring in events beside what was expected, by site and period?
-- Unit:       one row per patient, site and period
-- Parameters: none; reads mix_expected and mix_cells
-- Columns:    patient_no, place (number of site and period), n (dentures), y (events), e_e6 (expected, in millionths)
-- Order:      none; readers state their own
CREATE OR REPLACE TEMP TABLE change_rows AS
SELECT m.patient_no, c.place, count(*) AS n, CAST(sum(m.y) AS BIGINT) AS y, CAST(sum(m.e_e9) // 1000 AS BIGINT) AS e_e6
FROM mix_expected m
JOIN mix_cells c USING (cell)
WHERE c.place > 0 AND m.e_e9 > 0
GROUP BY m.patient_no, c.place
