-- Question:   how many dentures of each patient, site and period show one habit, of those that can be assessed?
-- Unit:       one row per patient, site and period
-- Parameters: $1 habit id; reads mix_rows
-- Columns:    as change_outcome: y counts dentures with the habit, e_e6 dentures assessed, in millionths
-- Order:      none; readers state their own
CREATE OR REPLACE TEMP TABLE change_rows AS
WITH long AS (UNPIVOT (SELECT denture_no, COLUMNS('^h_') FROM linked_dentures) ON COLUMNS('^h_') INTO NAME habit VALUE present)
SELECT m.patient_no, m.site, m.period, count(*) AS n, count(*) FILTER (l.present) AS y, 1000000 * count(*) AS e_e6
FROM long l JOIN mix_rows m USING (denture_no)
WHERE l.habit = 'h_' || CAST($1 AS VARCHAR) AND m.period IS NOT NULL
GROUP BY m.patient_no, m.site, m.period
