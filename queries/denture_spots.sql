-- Question:   which sore spots did each denture have, early or as ulcers?
-- Unit:       one row per sore spot of the dentures with these numbers
-- Parameters: filled with the first and last number of a denture
-- Columns:    one whole number, as link_sore makes it
-- Order:      none; the reader adds them up
SELECT spot FROM linked_sore WHERE spot BETWEEN CAST({{.First}} AS BIGINT) * 4294967296 AND CAST({{.Last}} AS BIGINT) * 4294967296 + 4294967295
