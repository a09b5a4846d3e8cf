-- Question:   what was observed and expected in each site and period?
-- Unit:       one row per site and period
-- Parameters: none; reads change_rows
-- Columns:    site, period, n (dentures), observed, expected (millionths), patients
-- Order:      site, period
SELECT site, period, CAST(sum(n) AS BIGINT), CAST(sum(y) AS BIGINT), CAST(sum(e_e6) AS BIGINT), count(*)
FROM change_rows GROUP BY site, period ORDER BY site, period
