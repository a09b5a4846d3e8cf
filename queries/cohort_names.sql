-- Question:   which codes does each dimension have, in order?
-- Unit:       one row per dimension and code
-- Parameters: none; reads cohort_codes
-- Columns:    dim, code
-- Order:      dim, number of the code
SELECT dim, code FROM cohort_codes ORDER BY dim, no
