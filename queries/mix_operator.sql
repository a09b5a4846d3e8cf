-- Question:   does the operator say something of the case, or only of the clinician?
-- Unit:       one row
-- Parameters: none; reads mix_wide
-- Columns:    dentures of clinicians recorded with two or more kinds of operator, dentures
-- Order:      none, one row
SELECT CAST(coalesce(sum(n) FILTER (kinds > 1), 0) AS BIGINT), CAST(coalesce(sum(n), 0) AS BIGINT)
FROM (
    SELECT clinician, sum(n) AS n, count(*) FILTER (operator NOT IN ('not_recorded', 'unknown')) AS kinds
    FROM (SELECT clinician, operator, count(*) AS n FROM mix_wide GROUP BY clinician, operator)
    GROUP BY clinician
)
