-- Question:   on each day, how many dentures ended their time at risk and how many events fell?
-- Unit:       one row per day with either
-- Parameters: $1 outcome, $2 last day of its window, $3 whether the outcome counts once; reads outcome_ends
-- Columns:    day (from delivery), ends (dentures), events
-- Order:      day
SELECT day, CAST(sum(ends) AS BIGINT) AS ends, CAST(sum(events) AS BIGINT) AS events
FROM (
    SELECT day, 1 AS ends, 0 AS events FROM outcome_ends
    UNION ALL
    SELECT day, 0, n FROM linked_events WHERE NOT CAST($3 AS BOOLEAN) AND outcome = CAST($1 AS VARCHAR) AND day <= CAST($2 AS INTEGER)
    UNION ALL
    SELECT day, 0, 1 FROM linked_firsts WHERE CAST($3 AS BOOLEAN) AND outcome = CAST($1 AS VARCHAR) AND day <= CAST($2 AS INTEGER)
)
GROUP BY day
ORDER BY day
