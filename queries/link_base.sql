-- Question:   from where on do new numbers start?
-- Unit:       one row
-- Parameters: none; reads linked_cases and linked_patients as the last link left them
-- Columns:    case_no (the last one in use), patient_tens (tens of patient numbers, likewise)
-- Order:      none, one row
CREATE OR REPLACE TEMP TABLE link_base AS
SELECT coalesce((SELECT max(case_no) FROM linked_cases), 0) AS case_no,
       coalesce((SELECT max(patient_no) FROM linked_patients) // 10 * 10, 0) AS patient_tens
