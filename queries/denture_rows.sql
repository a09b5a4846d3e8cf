-- Question:   how many dentures and events are there to read?
-- Unit:       one row
-- Parameters: none
-- Columns:    delivered dentures, the highest number of one (-1 if there are none), visits, sore spots
-- Order:      one row
SELECT count(*), coalesce(max(denture_no), -1), (SELECT count(*) FROM linked_visits), (SELECT count(*) FROM linked_sore)
FROM linked_made
