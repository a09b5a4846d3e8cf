-- Question:   how many patients have a denture of a colleague, for each clinician?
-- Unit:       one row per clinician
-- Parameters: none; reads group_rows of clinician_rows
-- Columns:    code (clinician), patients
-- Order:      code
WITH seen AS (
    SELECT patient_no, min(code) AS one, max(code) AS other FROM group_rows WHERE dimension = 'clinician' GROUP BY patient_no
)
SELECT c.code, CAST((SELECT count(*) FROM seen) - coalesce(s.patients, 0) AS BIGINT) AS patients
FROM (SELECT DISTINCT code FROM group_rows WHERE dimension = 'clinician') c
LEFT JOIN (SELECT one AS code, count(*) AS patients FROM seen WHERE one = other GROUP BY one) s USING (code)
ORDER BY c.code
