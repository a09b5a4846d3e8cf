-- Question:   at which visits was each denture seen?
-- Unit:       one row per visit of the dentures with these numbers
-- Parameters: filled with the first and last number of a denture
-- Columns:    one whole number: that of the denture times 2^32, the day (from delivery, 65535 at the most) times 2^16, the minutes of chair
--             time times 2^4, and the marks of the visit
-- Order:      none; the reader adds them up
SELECT CAST(denture_no AS BIGINT) * 4294967296 + CAST(least(day, 65535) AS BIGINT) * 65536 + minutes * 16 + marks
FROM linked_visits
WHERE denture_no BETWEEN {{.First}} AND {{.Last}}
