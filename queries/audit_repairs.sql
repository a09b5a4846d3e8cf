-- Question:   what of one case was remade, relined, rebased or reset?
-- Unit:       one row per piece of work
-- Parameters: $1 case_id
-- Columns:    arch, day (from records), scope, cause ("" not recorded)
-- Order:      day, upper first, scope, cause
SELECT arch, day, scope, coalesce(cause, '') AS cause
FROM remakes
WHERE case_id = CAST($1 AS VARCHAR)
ORDER BY day, arch DESC, scope, cause
