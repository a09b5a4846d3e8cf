-- Question:   what was observed and expected in each site and period?
-- Unit:       one row per site and period
-- Parameters: none; reads change_rows and mix_cells
-- Columns:    site, period, n (dentures), observed, expected (millionths), patients
-- Order:      site, period
SELECT p.site, p.period, s.n, s.y, s.e_e6, s.patients
FROM (
    SELECT place, CAST(sum(n) AS BIGINT) AS n, CAST(sum(y) AS BIGINT) AS y, CAST(sum(e_e6) AS BIGINT) AS e_e6, count(*) AS patients FROM change_rows GROUP BY place
) s
JOIN (SELECT DISTINCT place, site, period FROM mix_cells) p USING (place)
ORDER BY p.site, p.period
