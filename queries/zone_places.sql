-- Question:   at which places were sore spots ever seen?
-- Unit:       one row per zone and side
-- Parameters: none
-- Columns:    place (number), zone, side ("" not recorded)
-- Order:      none; readers state their own
CREATE OR REPLACE TEMP TABLE zone_places AS
SELECT CAST(row_number() OVER (ORDER BY zone, side) AS INTEGER) AS place, zone, side
FROM (SELECT DISTINCT zone, coalesce(side, '') AS side FROM sore_spots)
