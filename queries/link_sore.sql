-- Question:   which sore spots fell into their window, or were ulcers?
-- Unit:       one row per sore spot under a denture just linked
-- Parameters: filled with codes and how many sides a zone has; the window comes from link_settings (one row). Reads link_seen
-- Columns:    spot, one whole number: that of the denture times 2^32, the day (from the denture's own delivery) times 2^16, the place (a
--             number for its zone and side, as zonePlaces counts them) times 2^8, 2 if it is an ulcer, and 1 if it is within the window;
--             link_spots_view takes it apart
-- Order:      none; readers state their own
-- Spots meet their visits once, for both.
SELECT s.at + p.place * 256 + p.ulcer * 2 + CAST(s.day <= sore_days AS INTEGER) AS spot
FROM (SELECT visit_id, CAST(arch = 'upper' AS BIGINT) AS upper, CASE WHEN grade = 3 THEN 1 ELSE 0 END AS ulcer,
             1 + {{.sides}} * ({{.zone.Find "zone"}} - 1) + {{.side.Of "side"}} AS place
      FROM sore_spots) p
JOIN (SELECT visit_id, seen >> 32 & 1 AS upper, seen >> 16 & 65535 AS day, seen - seen % 65536 AS at FROM link_seen) s ON p.visit_id = s.visit_id AND p.upper = s.upper
CROSS JOIN link_settings
WHERE s.day <= sore_days OR p.ulcer = 1
