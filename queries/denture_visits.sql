-- Question:   at which visits was each denture seen?
-- Unit:       one row per visit of a denture
-- Parameters: none
-- Columns:    seen, one whole number, as link_seen makes it
-- Order:      none; the reader adds them up
SELECT seen FROM linked_visits
