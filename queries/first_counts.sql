-- Question:   in each group, how many dentures had the outcome, died or left on each day?
-- Unit:       one row per dimension, code and day
-- Parameters: none; reads first_units
-- Columns:    dimension, code, day (from delivery), events, deaths, censored
-- Order:      dimension, code, day
SELECT dimension, code, day,
       count(*) FILTER (kind = 0) AS events,
       count(*) FILTER (kind = 1) AS deaths,
       count(*) FILTER (kind = 2) AS censored
FROM first_units
GROUP BY dimension, code, day
ORDER BY dimension, code, day
