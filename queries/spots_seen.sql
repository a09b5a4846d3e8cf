-- Question:   which sore spots were seen on which day?
-- Unit:       one row per sore spot
-- Parameters: none; reads zone_places
-- Columns:    case_id, day of the visit (from records), upper (of the spot's arch), counts (the visit is one for the spot's arch; NULL
--             where the visit's is not recorded), place (as in zone_places)
-- Order:      none; readers state their own
-- Joining spots with their visits takes longest of what is asked of spots, so that it is done once.
CREATE OR REPLACE TEMP TABLE spots_seen AS
SELECT v.case_id, v.day, p.arch = 'upper' AS upper, v.arch = p.arch OR v.arch = 'both' AS counts, z.place
FROM sore_spots p
JOIN visits v USING (visit_id)
JOIN zone_places z ON z.zone = p.zone AND z.side = coalesce(p.side, '')
