-- Question:   to which clinician and quarter does each denture belong?
-- Unit:       one row per denture
-- Parameters: none
-- Columns:    as group_rows; dimension is "clinician_quarter", code the clinician, a bar, and the quarter
-- Order:      none; readers state their own
CREATE OR REPLACE TEMP TABLE group_rows AS
SELECT CAST(dense_rank() OVER (ORDER BY clinician || '|' || quarter) AS INTEGER) AS grp,
       'clinician_quarter' AS dimension, clinician || '|' || quarter AS code, arch, denture_no, patient_no, risk_days, end_reason
FROM linked_dentures
