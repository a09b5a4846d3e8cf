-- Question:   over how much time were records taken, and how long does an adjustment visit take?
-- Unit:       one row
-- Parameters: none
-- Columns:    quarters in which records were taken (0 where only years are recorded), years likewise, minutes of chair
--             time on adjustment visits and visits that recorded them
-- Order:      one row
SELECT count(DISTINCT quarter) FILTER (length(quarter) > 4) AS quarters, count(DISTINCT quarter[1:4]) AS years,
       (SELECT CAST(coalesce(sum(n), 0) AS BIGINT) FROM linked_events WHERE outcome = 'chair_minutes') AS minutes,
       (SELECT count(*) FROM linked_events WHERE outcome = 'chair_minutes') AS visits
FROM linked_dentures
