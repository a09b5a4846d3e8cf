-- Question:   which habits does one case show?
-- Unit:       one row per habit
-- Parameters: $1 case_id
-- Columns:    habit, arches that show it, joined by a bar
-- Order:      habit
WITH long AS (UNPIVOT (SELECT arch, COLUMNS('^h_') FROM linked_dentures WHERE case_id = CAST($1 AS VARCHAR)) ON COLUMNS('^h_') INTO NAME habit VALUE present)
SELECT habit[3:] AS habit, string_agg(arch, '|' ORDER BY arch DESC) AS arches
FROM long
WHERE present
GROUP BY habit
ORDER BY habit
