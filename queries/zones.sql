-- Question:   where were sore spots seen in the first days after delivery?
-- Unit:       one row per arch and place with a spot
-- Parameters: none; the window is that of linked_spots
-- Columns:    upper (of the arch), place (as in link_sore), spots, dentures delivered of that arch
-- Order:      none; the reader sorts
WITH sums AS (
    SELECT denture_no % 2 = 1 AS upper, place, count(*) AS spots FROM linked_spots WHERE early GROUP BY ALL
), made AS (
    SELECT denture_no % 2 = 1 AS upper, count(*) AS dentures FROM linked_made GROUP BY ALL
)
SELECT upper, place, spots, dentures FROM sums JOIN made USING (upper)
