-- Question:   how fine are the recorded periods of records?
-- Unit:       one row
-- Parameters: none
-- Columns:    delivered dentures, those with a month or a day, those with a quarter at least
-- Order:      none, one row
SELECT count(*), count(*) FILTER (length(records_on) >= 7 AND records_on NOT LIKE '%Q%'), count(*) FILTER (length(records_on) > 4)
FROM linked_dentures
