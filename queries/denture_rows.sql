-- Question:   how many dentures and events are there to read?
-- Unit:       one row
-- Parameters: none
-- Columns:    delivered dentures, the highest number of one (-1 if there are none), adjustment visits, sore spots
-- Order:      one row
SELECT count(*), coalesce(max(denture_no), -1), (SELECT count(*) FROM linked_events WHERE outcome = 'adjustment_visits'),
       (SELECT count(*) FROM linked_events WHERE outcome = 'early_sore_spots')
FROM linked_made
