-- Question:   to which clinician and quarter does each denture belong?
-- Unit:       one row per denture
-- Parameters: none
-- Columns:    as group_rows; dimension is "clinician_quarter", code the clinician, a bar, and the quarter
-- Order:      none; readers state their own
CREATE OR REPLACE TEMP TABLE group_rows AS
SELECT 'clinician_quarter' AS dimension, clinician || '|' || quarter AS code, case_id, arch, patient_key, risk_days, end_reason
FROM linked_dentures
