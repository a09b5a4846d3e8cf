-- Question:   which sore spots were seen at the visits of one case?
-- Unit:       one row per sore spot
-- Parameters: $1 case_id
-- Columns:    visit_id, arch, zone, side ("" not recorded), grade (0 not recorded)
-- Order:      day, visit_id, upper first, zone, side, grade
SELECT p.visit_id, p.arch, p.zone, coalesce(p.side, '') AS side, coalesce(p.grade, 0) AS grade
FROM sore_spots p
JOIN visits v USING (visit_id)
WHERE v.case_id = CAST($1 AS VARCHAR)
ORDER BY v.day, p.visit_id, p.arch DESC, p.zone, side, grade
