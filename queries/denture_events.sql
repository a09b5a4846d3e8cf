-- Question:   which countable events happened to each denture, and when?
-- Unit:       one row per event (a visit, its chair time, a sore spot)
-- Parameters: none
-- Columns:    one whole number: that of the denture times 2^32, the outcome (0 adjustment visits, 1 chair minutes, 2 sore spots) times
--             2^30, the day (from delivery) times 2^18, and n (1, or minutes)
-- Order:      none; the reader adds them up
SELECT CAST(denture_no AS BIGINT) * 4294967296 + CAST(day AS BIGINT) * 262144 + 1 FROM linked_adjusted
UNION ALL
SELECT CAST(denture_no AS BIGINT) * 4294967296 + 1073741824 + CAST(day AS BIGINT) * 262144 + minutes FROM linked_adjusted WHERE minutes > 0
UNION ALL
SELECT CAST(denture_no AS BIGINT) * 4294967296 + 2147483648 + CAST(day AS BIGINT) * 262144 + 1 FROM linked_sore WHERE early
