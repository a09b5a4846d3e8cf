-- Question:   how far does each patient pull the mean cumulative function of a group?
-- Unit:       one row per dimension, code and patient
-- Parameters: $1 outcome in linked_events, $2 last day of its window; reads recurrent_days
-- Columns:    dimension, code, patient_key, pull (A_c of Lawless & Nadeau 1995 in units of 1e-12,
--             an integer, so that sums are exact whatever their order)
-- Order:      none; readers sum
CREATE OR REPLACE TEMP TABLE recurrent_influence AS
WITH risk AS (
    SELECT dimension, code, day, events,
           CAST(sum(ends) OVER later AS DOUBLE) AS at_risk
    FROM recurrent_days
    WINDOW later AS (PARTITION BY dimension, code ORDER BY day DESC)
), steps AS (
    SELECT dimension, code, day,
           CAST(round(1e12 / at_risk) AS HUGEINT) AS inverse,
           sum(CAST(round(1e12 * events / (at_risk * at_risk)) AS HUGEINT)) OVER (PARTITION BY dimension, code ORDER BY day) AS hazard
    FROM risk
)
SELECT dimension, code, patient_key, CAST(sum(pull) AS HUGEINT) AS pull
FROM (
    SELECT g.dimension, g.code, g.patient_key, -s.hazard AS pull
    FROM group_rows g JOIN steps s ON s.dimension = g.dimension AND s.code = g.code AND s.day = least(g.risk_days, CAST($2 AS INTEGER))
    UNION ALL
    SELECT g.dimension, g.code, g.patient_key, e.n * s.inverse
    FROM group_rows g
    JOIN linked_events e ON e.case_id = g.case_id AND e.arch = g.arch
    JOIN steps s ON s.dimension = g.dimension AND s.code = g.code AND s.day = e.day
    WHERE e.outcome = CAST($1 AS VARCHAR)
)
GROUP BY dimension, code, patient_key
