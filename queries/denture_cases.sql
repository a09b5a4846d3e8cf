-- Question:   of which cases are some dentures?
-- Unit:       one row per denture
-- Parameters: $1 their numbers, joined by |
-- Columns:    denture_no, case_id
-- Order:      none; the reader sorts
SELECT denture_no, case_id
FROM linked_dentures
WHERE denture_no IN (SELECT CAST(unnest(string_split(CAST($1 AS VARCHAR), '|')) AS INTEGER))
