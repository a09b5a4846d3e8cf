-- Question:   when was one case seen, and what was done?
-- Unit:       one row per visit
-- Parameters: $1 case_id
-- Columns:    visit_id, day (from records), arch ("" not recorded), reason, adjusted, minutes (NULL not recorded), complaints, lesion_review
-- Order:      day, visit_id
SELECT visit_id, day, coalesce(arch, ''), coalesce(reason, ''), adjusted = 'yes', minutes, coalesce(complaints, ''), coalesce(lesion_review, '')
FROM visits
WHERE case_id = CAST($1 AS VARCHAR)
ORDER BY day, visit_id
