-- Question:   which of a clinician's cases show a habit, the ones with most adjustment visits first?
-- Unit:       one row per case
-- Parameters: $1 clinician, $2 habit id
-- Columns:    case_id
-- Order:      adjustment visits descending, case_id
WITH long AS (UNPIVOT (SELECT case_id, arch, clinician, COLUMNS('^h_') FROM linked_dentures WHERE clinician = CAST($1 AS VARCHAR)) ON COLUMNS('^h_') INTO NAME habit VALUE present)
SELECT l.case_id
FROM long l LEFT JOIN linked_events e ON e.case_id = l.case_id AND e.arch = l.arch AND e.outcome = 'adjustment_visits'
WHERE l.present AND l.habit = 'h_' || CAST($2 AS VARCHAR)
GROUP BY l.case_id
ORDER BY count(e.day) DESC, l.case_id
LIMIT 5
