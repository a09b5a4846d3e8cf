-- Question:   which countable events of one kind happened to each denture, and when?
-- Unit:       one row per event (a visit, its chair time, or a sore spot) of the dentures with these numbers
-- Parameters: filled with the outcome, and the first and last number of a denture
-- Columns:    one whole number: that of the denture times 2^32, the day (from delivery) times 2^20, the place (of a sore spot, as in
--             link_events) times 2^12, and n (1, or minutes)
-- Order:      none; the reader adds them up
SELECT CAST(denture_no AS BIGINT) * 4294967296 + CAST(day AS BIGINT) * 1048576 + CAST(place AS BIGINT) * 4096 + n
FROM linked_counted
WHERE outcome = '{{.Outcome}}' AND denture_no BETWEEN {{.First}} AND {{.Last}}
