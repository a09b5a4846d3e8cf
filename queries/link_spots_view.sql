-- Question:   which sore spots did each denture have, early or as ulcers?
-- Unit:       one row per sore spot
-- Parameters: none
-- Columns:    denture_no, day (days from the denture's own delivery, delivery day = 0), place (its number, as zonePlaces counts them), ulcer,
--             early (within the window)
-- Order:      none; readers state their own
CREATE OR REPLACE VIEW linked_spots AS
SELECT CAST(spot >> 32 AS INTEGER) AS denture_no, CAST(spot >> 16 & 65535 AS INTEGER) AS day, CAST(spot >> 8 & 255 AS UTINYINT) AS place,
       spot & 2 > 0 AS ulcer, spot & 1 > 0 AS early
FROM linked_sore
