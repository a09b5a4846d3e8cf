-- Question:   whose is each denture?
-- Unit:       one row per denture for the clinician who took its records, and one for all clinicians together
-- Parameters: none
-- Columns:    as group_rows; dimension is "clinician" with the clinician's code, or "all"
-- Order:      none; readers state their own
CREATE OR REPLACE TEMP TABLE group_rows AS
SELECT CAST(1 + dense_rank() OVER (ORDER BY clinician) AS INTEGER) AS grp, 'clinician' AS dimension, clinician AS code, arch, denture_no, patient_no, risk_days, end_reason
FROM linked_dentures
UNION ALL
SELECT 1, 'all', 'all', arch, denture_no, patient_no, risk_days, end_reason FROM linked_dentures
