-- Question:   from where on do new numbers start?
-- Unit:       one row
-- Parameters: none; reads linked_coded and linked_patients as the last link left them
-- Columns:    denture_no (even, the last one in use or more), patient_tens (tens of patient numbers, likewise)
-- Order:      none, one row
CREATE OR REPLACE TEMP TABLE link_base AS
SELECT coalesce((SELECT max(denture_no) + 1 FROM linked_coded) // 2 * 2, 0) AS denture_no,
       coalesce((SELECT max(patient_no) FROM linked_patients) // 10 * 10, 0) AS patient_tens
