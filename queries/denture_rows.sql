-- Question:   how many dentures and events are there to read?
-- Unit:       one row
-- Parameters: none
-- Columns:    delivered dentures, countable events
-- Order:      one row
SELECT (SELECT count(*) FROM linked_coded), (SELECT count(*) + count(*) FILTER (minutes > 0) FROM linked_adjusted) + (SELECT count(*) FROM linked_sore WHERE early)
