-- Question:   in each group, how many dentures end follow-up and how many events fall on each day?
-- Unit:       one row per dimension, code and day with either
-- Parameters: $1 outcome in linked_events, $2 last day of its window
-- Columns:    dimension, code, day (from delivery), ends (dentures), events
-- Order:      dimension, code, day when read
CREATE OR REPLACE TEMP TABLE recurrent_days AS
SELECT dimension, code, day, CAST(sum(ends) AS BIGINT) AS ends, CAST(sum(events) AS BIGINT) AS events
FROM (
    SELECT dimension, code, least(risk_days, CAST($2 AS INTEGER)) AS day, 1 AS ends, 0 AS events FROM group_rows
    UNION ALL
    SELECT g.dimension, g.code, e.day, 0, e.n
    FROM group_rows g JOIN linked_events e ON e.case_id = g.case_id AND e.arch = g.arch
    WHERE e.outcome = CAST($1 AS VARCHAR)
)
GROUP BY dimension, code, day
