-- Question:   how often was each value recorded, and how many events followed?
-- Unit:       one row per value, and one without a value for the dentures in which it was not recorded
-- Parameters: none; reads dose_rows, outcome_rows
-- Columns:    value_e2 (hundredths of a mm, NULL: not recorded), n, y (0 where not recorded)
-- Order:      value_e2, the one without a value last
SELECT value_e2, count(*) AS n, CAST(sum(y) AS BIGINT) AS y FROM dose_rows GROUP BY value_e2
UNION ALL
SELECT NULL, (SELECT count(*) FROM outcome_rows) - (SELECT count(*) FROM dose_rows), 0
ORDER BY value_e2 NULLS LAST
