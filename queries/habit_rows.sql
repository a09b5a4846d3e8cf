-- Question:   which dentures were made with each habit, and which without it?
-- Unit:       one row per denture and habit that can be assessed
-- Parameters: none
-- Columns:    as group_rows; dimension is the habit's id, code is with or without, a bar, and the arch
-- Order:      none; readers state their own
CREATE OR REPLACE TEMP TABLE group_rows AS
WITH long AS (UNPIVOT (SELECT case_id, arch, patient_key, risk_days, end_reason, COLUMNS('^h_') FROM linked_dentures)
              ON COLUMNS('^h_') INTO NAME habit VALUE present)
SELECT habit[3:] AS dimension, CASE WHEN present THEN 'with' ELSE 'without' END || '|' || arch AS code,
       case_id, arch, patient_key, risk_days, end_reason
FROM long
