-- Question:   of which cases are some dentures?
-- Unit:       one row per denture
-- Parameters: $1 their numbers, joined by |
-- Columns:    denture_no, case_id
-- Order:      none; the reader sorts
WITH asked AS (
    SELECT CAST(unnest(string_split(CAST($1 AS VARCHAR), '|')) AS INTEGER) AS denture_no
)
SELECT denture_no, case_id
FROM asked JOIN linked_cases ON case_no = denture_no - denture_no % 2
