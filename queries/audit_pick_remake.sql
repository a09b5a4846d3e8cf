-- Question:   which remade dentures have no recorded cause?
-- Unit:       one row per case
-- Parameters: $1 most cases
-- Columns:    case_id
-- Order:      day of the first such remake, case_id
SELECT r.case_id
FROM remakes r
WHERE r.scope = 'remake' AND coalesce(r.cause, 'unknown') = 'unknown' AND r.case_id IN (SELECT case_id FROM linked_dentures)
GROUP BY r.case_id
ORDER BY min(r.day), r.case_id
LIMIT CAST($1 AS BIGINT)
