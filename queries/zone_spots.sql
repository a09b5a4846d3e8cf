-- Question:   how often was each denture sore at each place in the first days after delivery?
-- Unit:       one row per denture, zone and side with a spot
-- Parameters: none; the window is that of linked_events; reads spots_seen
-- Columns:    denture_no, upper (of its arch), place (as in zone_places), spots
-- Order:      none; readers state their own
CREATE OR REPLACE TEMP TABLE zone_spots AS
SELECT d.denture_no, v.upper, v.place, count(*) AS spots
FROM spots_seen v
JOIN linked_coded d ON d.case_id = v.case_id AND (d.arch = 'upper') = v.upper
CROSS JOIN link_settings s
WHERE v.counts AND v.day BETWEEN d.delivered_day AND least(d.end_day, d.delivered_day + s.sore_days)
GROUP BY d.denture_no, v.upper, v.place
