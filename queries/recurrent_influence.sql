-- Question:   how far does each patient pull the mean cumulative function of a group?
-- Unit:       one row per group and patient
-- Parameters: $1 outcome in linked_events, $2 last day of its window; reads recurrent_days
-- Columns:    grp (as in group_rows), patient_no, pull (A_c of Lawless & Nadeau 1995 in units of 1e-12,
--             an integer, so that sums are exact whatever their order)
-- Order:      none; readers sum
CREATE OR REPLACE TEMP TABLE recurrent_influence AS
WITH risk AS (
    SELECT grp, day, events,
           CAST(sum(ends) OVER later AS DOUBLE) AS at_risk
    FROM recurrent_days
    WINDOW later AS (PARTITION BY grp ORDER BY day DESC)
), steps AS (
    SELECT grp, day,
           CAST(round(1e12 / at_risk) AS HUGEINT) AS inverse,
           sum(CAST(round(1e12 * events / (at_risk * at_risk)) AS HUGEINT)) OVER (PARTITION BY grp ORDER BY day) AS hazard
    FROM risk
)
SELECT grp, patient_no, CAST(sum(pull) AS HUGEINT) AS pull
FROM (
    SELECT g.grp, g.patient_no, -s.hazard AS pull
    FROM group_rows g JOIN steps s ON s.grp = g.grp AND s.day = least(g.risk_days, CAST($2 AS INTEGER))
    UNION ALL
    SELECT g.grp, g.patient_no, e.n * s.inverse
    FROM group_rows g
    JOIN linked_events e ON e.denture_no = g.denture_no
    JOIN steps s ON s.grp = g.grp AND s.day = e.day
    WHERE e.outcome = CAST($1 AS VARCHAR)
)
GROUP BY grp, patient_no
