-- Question:   which sore spots fell into their window, or were ulcers?
-- Unit:       one row per sore spot under a denture just linked
-- Parameters: filled with codes and how many sides a zone has; the window comes from link_settings (one row). Reads link_seen
-- Columns:    denture_no, day (days from the denture's own delivery, delivery day = 0), early (within the window), ulcer,
--             place (a number for its zone and side, as zonePlaces counts them)
-- Order:      none; readers state their own
-- Spots meet their visits once, for both.
SELECT s.denture_no, s.day, s.day <= sore_days AS early, p.ulcer, p.place
FROM (SELECT visit_id, arch = 'upper' AS upper, coalesce(grade = 3, FALSE) AS ulcer,
             CAST(1 + {{.sides}} * ({{.zone.Find "zone"}} - 1) + {{.side.Of "side"}} AS UTINYINT) AS place
      FROM sore_spots) p
JOIN (SELECT denture_no, denture_no % 2 = 1 AS upper, visit_id, day FROM link_seen) s ON p.visit_id = s.visit_id AND p.upper = s.upper
CROSS JOIN link_settings
WHERE s.day <= sore_days OR p.ulcer
