-- Question:   in each group, on which day did dentures first have the outcome, die, or leave?
-- Unit:       one row per dimension, code and day
-- Parameters: $1 outcome in linked_firsts, $2 last day of its window (later days count as left on it)
-- Columns:    dimension, code, day (from delivery), events, deaths, censored
-- Order:      dimension, code, day
-- The day after the window holds everybody who was followed beyond it, so that the last day of the
-- window still counts.
SELECT dimension, code, day,
       count(*) FILTER (cause = 'event') AS events,
       count(*) FILTER (cause = 'died') AS deaths,
       count(*) FILTER (cause = 'left') AS censored
FROM (
    SELECT g.dimension, g.code,
           least(coalesce(f.day, g.risk_days), CAST($2 AS INTEGER) + 1) AS day,
           CASE WHEN coalesce(f.day, g.risk_days) > CAST($2 AS INTEGER) THEN 'left'
                WHEN f.day IS NOT NULL THEN 'event' WHEN g.end_reason = 'died' THEN 'died' ELSE 'left' END AS cause
    FROM group_rows g
    LEFT JOIN linked_firsts f ON f.outcome = CAST($1 AS VARCHAR) AND f.case_id = g.case_id AND f.arch = g.arch
)
GROUP BY dimension, code, day
ORDER BY dimension, code, day
