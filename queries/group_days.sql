-- Question:   in each group, how many dentures end follow-up and how many events fall on each day?
-- Unit:       one row per group and day with either
-- Parameters: $1 outcome in linked_events, $2 last day of its window
-- Columns:    grp (as in group_rows), day (from delivery), ends (dentures), events
-- Order:      none; recurrent_counts reads them in order
CREATE OR REPLACE TEMP TABLE recurrent_days AS
SELECT grp, day, CAST(sum(ends) AS BIGINT) AS ends, CAST(sum(events) AS BIGINT) AS events
FROM (
    SELECT grp, least(risk_days, CAST($2 AS INTEGER)) AS day, 1 AS ends, 0 AS events FROM group_rows
    UNION ALL
    SELECT g.grp, e.day, 0, e.n
    FROM group_rows g JOIN linked_events e ON e.denture_no = g.denture_no
    WHERE e.outcome = CAST($1 AS VARCHAR)
)
GROUP BY grp, day
