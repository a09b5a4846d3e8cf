-- Question:   how many dentures and events are there to read?
-- Unit:       one row
-- Parameters: none
-- Columns:    delivered dentures, the highest number of one (-1 if there are none), adjustment visits, visits with minutes, sore spots
-- Order:      one row
SELECT count(*), coalesce(max(denture_no), -1),
       (SELECT count(*) FROM linked_counted WHERE outcome = 'adjustment_visits'), (SELECT count(*) FROM linked_counted WHERE outcome = 'chair_minutes'),
       (SELECT count(*) FROM linked_counted WHERE outcome = 'early_sore_spots')
FROM linked_coded
