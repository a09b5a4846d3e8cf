-- Question:   how often was each denture sore at each place in the first days after delivery?
-- Unit:       one row per denture, zone and side with a spot
-- Parameters: none; reads zone_spots
-- Columns:    two whole numbers: that of the denture times 2^32 plus the place (as in zone_places), and the spots
-- Order:      none; the reader sorts
SELECT CAST(denture_no AS BIGINT) * 4294967296 + place, spots
FROM zone_spots
