-- Question:   which sore spots did each denture have, early or as ulcers?
-- Unit:       one row per sore spot of a denture
-- Parameters: none
-- Columns:    spot, one whole number, as link_sore makes it
-- Order:      none; the reader adds them up
SELECT spot FROM linked_sore
