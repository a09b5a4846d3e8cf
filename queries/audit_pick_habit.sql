-- Question:   which cases show a habit, the ones with most adjustment visits first?
-- Unit:       one row per case
-- Parameters: $1 habit id, $2 most cases
-- Columns:    case_id
-- Order:      adjustment visits descending, case_id
WITH long AS (UNPIVOT (SELECT case_id, denture_no, COLUMNS('^h_') FROM linked_dentures) ON COLUMNS('^h_') INTO NAME habit VALUE present)
SELECT l.case_id
FROM long l
LEFT JOIN linked_events e ON e.denture_no = l.denture_no AND e.outcome = 'adjustment_visits'
WHERE l.present AND l.habit = 'h_' || CAST($1 AS VARCHAR)
GROUP BY l.case_id
ORDER BY count(e.day) DESC, l.case_id
LIMIT CAST($2 AS BIGINT)
