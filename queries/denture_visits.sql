-- Question:   at which visits was each denture seen?
-- Unit:       one row per visit of the dentures with these numbers
-- Parameters: filled with the first and last number of a denture
-- Columns:    one whole number, as link_seen makes it
-- Order:      none; the reader adds them up
SELECT seen FROM linked_visits WHERE seen BETWEEN CAST({{.First}} AS BIGINT) * 4294967296 AND CAST({{.Last}} AS BIGINT) * 4294967296 + 4294967295
