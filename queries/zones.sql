-- Question:   where were sore spots seen in the first days after delivery?
-- Unit:       one row per arch, zone and side with a spot
-- Parameters: none; the window is that of linked_events
-- Columns:    arch, zone, side ("" not recorded), spots, dentures delivered of that arch
-- Order:      arch, zone, side
SELECT d.arch, p.zone, coalesce(p.side, '') AS side, count(*) AS spots,
       (SELECT count(*) FROM linked_dentures n WHERE n.arch = d.arch) AS dentures
FROM linked_dentures d
CROSS JOIN link_settings s
JOIN visits v ON v.case_id = d.case_id AND (v.arch = d.arch OR v.arch = 'both') AND v.day BETWEEN d.delivered_day AND least(d.end_day, d.delivered_day + s.sore_days)
JOIN sore_spots p ON p.visit_id = v.visit_id AND p.arch = d.arch
GROUP BY d.arch, p.zone, coalesce(p.side, '')
ORDER BY d.arch, p.zone, side
