-- Question:   by how much does a denture's end or event pull the mean cumulative function of each clinician's colleagues?
-- Unit:       one row per clinician and day on which any denture ends or has events
-- Parameters: none; reads recurrent_days of clinician_rows, where group 1 is everybody
-- Columns:    grp (the clinician whose colleagues they are), day, inverse (pull of one event), hazard (pull of an end is -hazard),
--             as recurrent_influence has them for a group of its own, in units of 1e-12
-- Order:      none; readers sum
CREATE OR REPLACE TEMP TABLE colleague_steps AS
WITH days AS ( -- everybody's counts less the clinician's own
    SELECT g.grp, a.day, a.ends - coalesce(o.ends, 0) AS ends, a.events - coalesce(o.events, 0) AS events
    FROM (SELECT DISTINCT grp FROM recurrent_days WHERE grp > 1) g
    CROSS JOIN (SELECT day, ends, events FROM recurrent_days WHERE grp = 1) a
    LEFT JOIN recurrent_days o ON o.grp = g.grp AND o.day = a.day
), risk AS (
    SELECT grp, day, events, CAST(sum(ends) OVER (PARTITION BY grp ORDER BY day DESC) AS DOUBLE) AS at_risk
    FROM days
)
SELECT grp, day, CAST(round(1e12 / at_risk) AS HUGEINT) AS inverse,
       sum(CAST(round(1e12 * events / (at_risk * at_risk)) AS HUGEINT)) OVER (PARTITION BY grp ORDER BY day) AS hazard
FROM risk
WHERE at_risk > 0
