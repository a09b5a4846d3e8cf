-- Question:   how often was each denture sore at each place in the first days after delivery?
-- Unit:       one row per denture, zone and side with a spot
-- Parameters: none; the window is that of linked_events
-- Columns:    denture_no, zone, side ("" not recorded), spots
-- Order:      none; readers state their own
CREATE OR REPLACE TEMP TABLE zone_spots AS
SELECT d.denture_no, p.zone, coalesce(p.side, '') AS side, count(*) AS spots
FROM linked_dentures d
CROSS JOIN link_settings s
JOIN visits v ON v.case_id = d.case_id AND (v.arch = d.arch OR v.arch = 'both') AND v.day BETWEEN d.delivered_day AND least(d.end_day, d.delivered_day + s.sore_days)
JOIN sore_spots p ON p.visit_id = v.visit_id AND p.arch = d.arch
GROUP BY d.denture_no, p.zone, coalesce(p.side, '')
