-- Question:   in each group, how many dentures had the outcome, died or left on each day?
-- Unit:       one row per dimension, code and day
-- Parameters: none; reads first_units and group_rows
-- Columns:    dimension, code, day (from delivery), events, deaths, censored
-- Order:      dimension, code, day
SELECT n.dimension, n.code, c.day, c.events, c.deaths, c.censored
FROM (
    SELECT grp, day, count(*) FILTER (kind = 0) AS events, count(*) FILTER (kind = 1) AS deaths, count(*) FILTER (kind = 2) AS censored
    FROM first_units
    GROUP BY grp, day
) c
JOIN (SELECT DISTINCT grp, dimension, code FROM group_rows) n USING (grp)
ORDER BY n.dimension, n.code, c.day
