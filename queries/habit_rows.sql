-- Question:   which dentures were made with each habit, and which without it?
-- Unit:       one row per denture and habit that can be assessed
-- Parameters: none
-- Columns:    as group_rows; dimension is the habit's id, code is with or without, a bar, and the arch
-- Order:      none; readers state their own
CREATE OR REPLACE TEMP TABLE group_rows AS
WITH long AS (UNPIVOT (SELECT arch, denture_no, patient_no, risk_days, end_reason, COLUMNS('^h_') FROM linked_dentures)
              ON COLUMNS('^h_') INTO NAME habit VALUE present)
SELECT CAST(dense_rank() OVER (ORDER BY dimension, code) AS INTEGER) AS grp, *
FROM (SELECT habit[3:] AS dimension, CASE WHEN present THEN 'with' ELSE 'without' END || '|' || arch AS code,
             arch, denture_no, patient_no, risk_days, end_reason
      FROM long)
