-- Question:   of the dentures like one of the case's, followed at least as long, how many needed as many visits as it did?
-- Unit:       one row per denture of the case
-- Parameters: $1 case_id, $2 outcome in linked_events, $3 last day of its window; reads group_rows as audit_like made them
-- Columns:    arch, like dentures followed as long (up to the window), those with as many events or more in that time
-- Order:      upper first
WITH own AS (
    SELECT d.arch, least(d.risk_days, CAST($3 AS INTEGER)) AS until, count(e.day) AS y
    FROM linked_dentures d
    LEFT JOIN linked_events e ON e.denture_no = d.denture_no AND e.outcome = CAST($2 AS VARCHAR)
    WHERE d.case_id = CAST($1 AS VARCHAR)
    GROUP BY d.arch, d.risk_days
), counted AS (
    SELECT o.arch, o.y AS own_y, g.denture_no, count(e.day) AS y
    FROM own o
    JOIN group_rows g ON g.arch = o.arch AND g.risk_days >= o.until
    LEFT JOIN linked_events e ON e.denture_no = g.denture_no AND e.outcome = CAST($2 AS VARCHAR) AND e.day <= o.until
    GROUP BY o.arch, o.y, g.denture_no
)
SELECT arch, count(*), count(*) FILTER (y >= own_y) FROM counted GROUP BY arch ORDER BY arch DESC
