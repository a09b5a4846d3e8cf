-- Question:   how did each denture of one case fare?
-- Unit:       one row per denture, delivered or not
-- Parameters: $1 case_id
-- Columns:    arch, delivered_day and end_day (from records, NULL where not delivered or not observed), end_reason, days at risk,
--             adjustment visits, early sore spots and minutes of chair time in their windows
-- Order:      upper first
SELECT d.arch, l.delivered_day, l.end_day, coalesce(l.end_reason, ''), coalesce(l.risk_days, 0),
       CAST(coalesce(sum(e.n) FILTER (e.outcome = 'adjustment_visits'), 0) AS BIGINT),
       CAST(coalesce(sum(e.n) FILTER (e.outcome = 'early_sore_spots'), 0) AS BIGINT),
       CAST(coalesce(sum(e.n) FILTER (e.outcome = 'chair_minutes'), 0) AS BIGINT)
FROM dentures d
LEFT JOIN linked_dentures l USING (case_id, arch)
LEFT JOIN linked_events e ON e.denture_no = l.denture_no
WHERE d.case_id = CAST($1 AS VARCHAR)
GROUP BY d.arch, l.delivered_day, l.end_day, l.end_reason, l.risk_days
ORDER BY d.arch DESC
