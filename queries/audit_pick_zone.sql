-- Question:   which cases were sore at a place, the ones with most spots there first?
-- Unit:       one row per case with a delivered denture
-- Parameters: $1 arch, $2 zone, $3 side ("" for any), $4 most cases
-- Columns:    case_id
-- Order:      spots there, highest grade, case_id
SELECT v.case_id
FROM sore_spots p
JOIN visits v USING (visit_id)
WHERE p.arch = CAST($1 AS VARCHAR) AND p.zone = CAST($2 AS VARCHAR) AND ($3 = '' OR p.side = CAST($3 AS VARCHAR))
  AND v.case_id IN (SELECT case_id FROM linked_dentures)
GROUP BY v.case_id
ORDER BY count(*) DESC, coalesce(max(p.grade), 0) DESC, v.case_id
LIMIT CAST($4 AS BIGINT)
