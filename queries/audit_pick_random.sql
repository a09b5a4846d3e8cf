-- Question:   which cases does chance pick with this seed?
-- Unit:       one row per case with a delivered denture
-- Parameters: $1 seed, $2 most cases
-- Columns:    case_id
-- Order:      MD5 of seed and case_id, which is the same everywhere; case_id
SELECT case_id
FROM (SELECT DISTINCT case_id FROM linked_dentures)
ORDER BY md5(CAST($1 AS VARCHAR) || ':' || case_id), case_id
LIMIT CAST($2 AS BIGINT)
