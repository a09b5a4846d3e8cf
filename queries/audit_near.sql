-- Question:   which case ids look most like one that does not exist?
-- Unit:       one row per case, at most three
-- Parameters: $1 the id asked for
-- Columns:    case_id
-- Order:      letters to change, case_id
SELECT case_id
FROM cases
WHERE levenshtein(lower(case_id), lower(CAST($1 AS VARCHAR))) <= greatest(2, length(CAST($1 AS VARCHAR)) // 3)
ORDER BY levenshtein(lower(case_id), lower(CAST($1 AS VARCHAR))), case_id
LIMIT 3
