-- Question:   how long was each denture at risk of one outcome, and how often did it happen?
-- Unit:       one row per delivered denture
-- Parameters: $1 outcome, $2 last day of its window, $3 whether the outcome counts once
-- Columns:    denture_no, patient_no, day (last day at risk, from delivery), y (events in the window)
-- Order:      none; readers state their own
-- An outcome that counts once ends the time at risk; one that recurs does not.
CREATE OR REPLACE TEMP TABLE outcome_ends AS
WITH happened AS (
    SELECT denture_no, CAST(sum(n) AS INTEGER) AS y, CAST(NULL AS INTEGER) AS day
    FROM linked_events WHERE NOT CAST($3 AS BOOLEAN) AND outcome = CAST($1 AS VARCHAR) AND day <= CAST($2 AS INTEGER)
    GROUP BY denture_no
    UNION ALL
    SELECT denture_no, 1, day
    FROM linked_firsts WHERE CAST($3 AS BOOLEAN) AND outcome = CAST($1 AS VARCHAR) AND day <= CAST($2 AS INTEGER)
)
SELECT d.denture_no, d.patient_no, coalesce(h.day, least(d.risk_days, CAST($2 AS INTEGER))) AS day, coalesce(h.y, 0) AS y
FROM linked_dentures d
LEFT JOIN happened h USING (denture_no)
