-- Question:   which number does each clinician go by while habits are compared?
-- Unit:       one row per clinician with a delivered denture
-- Parameters: none
-- Columns:    clinician, clinician_no (from 0, in the order of the codes)
-- Order:      none; readers join
CREATE OR REPLACE TEMP TABLE pair_clinicians AS
SELECT clinician, CAST(row_number() OVER (ORDER BY clinician) - 1 AS INTEGER) AS clinician_no
FROM (SELECT DISTINCT clinician FROM linked_dentures)
