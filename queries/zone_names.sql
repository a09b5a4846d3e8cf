-- Question:   at which places were sore spots ever seen, in order?
-- Unit:       one row per zone and side
-- Parameters: none; reads zone_places
-- Columns:    zone, side ("" not recorded)
-- Order:      the number of the place, from 1
SELECT zone, side FROM zone_places ORDER BY place
