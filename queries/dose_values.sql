-- Question:   how often was each value recorded, and how many events followed?
-- Unit:       one row per value, and one without a value for the dentures in which it was not recorded
-- Parameters: none; reads dose_rows, outcome_rows
-- Columns:    value_e2 (hundredths of a mm, NULL: not recorded), n, y
-- Order:      value_e2, the one without a value last
SELECT r.value_e2, count(*) AS n, CAST(sum(o.y) AS BIGINT) AS y
FROM outcome_rows o
LEFT JOIN dose_rows r USING (denture_no)
GROUP BY r.value_e2
ORDER BY r.value_e2 NULLS LAST
