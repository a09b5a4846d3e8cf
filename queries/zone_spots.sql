-- Question:   how often was each denture sore at each place in the first days after delivery?
-- Unit:       one row per denture, zone and side with a spot
-- Parameters: none; the window is that of linked_events; reads zone_places
-- Columns:    denture_no, upper (of its arch), place (as in zone_places), spots
-- Order:      none; readers state their own
CREATE OR REPLACE TEMP TABLE zone_spots AS
SELECT d.denture_no, d.arch = 'upper' AS upper, z.place, count(*) AS spots
FROM linked_dentures d
CROSS JOIN link_settings s
JOIN visits v ON v.case_id = d.case_id AND (v.arch = d.arch OR v.arch = 'both') AND v.day BETWEEN d.delivered_day AND least(d.end_day, d.delivered_day + s.sore_days)
JOIN sore_spots p ON p.visit_id = v.visit_id AND p.arch = d.arch
JOIN zone_places z ON z.zone = p.zone AND z.side = coalesce(p.side, '')
GROUP BY d.denture_no, upper, z.place
