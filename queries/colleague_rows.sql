-- Question:   which dentures are the colleagues' of each clinician?
-- Unit:       one row per denture and clinician who did not take its records
-- Parameters: none
-- Columns:    as group_rows; dimension is "colleagues", code the clinician whose colleagues they are
-- Order:      none; readers state their own
CREATE OR REPLACE TEMP TABLE group_rows AS
SELECT CAST(dense_rank() OVER (ORDER BY o.clinician) AS INTEGER) AS grp,
       'colleagues' AS dimension, o.clinician AS code, d.arch, d.denture_no, d.patient_no, d.risk_days, d.end_reason
FROM (SELECT DISTINCT clinician FROM linked_dentures) o
JOIN linked_dentures d ON d.clinician <> o.clinician
