-- Question:   which sore spots did each denture have early?
-- Unit:       one row per sore spot of the dentures with these numbers
-- Parameters: filled with the first and last number of a denture
-- Columns:    one whole number: that of the denture times 2^32, the day (from delivery) times 2^20, the place (as in link_sore) times
--             2^12, and 1
-- Order:      none; the reader adds them up
SELECT CAST(denture_no AS BIGINT) * 4294967296 + CAST(day AS BIGINT) * 1048576 + CAST(place AS BIGINT) * 4096 + 1
FROM linked_sore
WHERE early AND denture_no BETWEEN {{.First}} AND {{.Last}}
