-- Question:   how do the events of one patient hang together, within a site and period and across them?
-- Unit:       one row per pair of site and period, that with itself included
-- Parameters: none; reads change_rows and mix_cells
-- Columns:    site and period of the first cell, of the second, and the sums over shared patients of observed x observed,
--             observed x expected, expected x observed (both in millionths), expected x expected (in 1e-12)
-- Order:      the four codes
WITH places AS (SELECT DISTINCT place, site, period FROM mix_cells),
pairs AS (
    SELECT a.place AS place_a, b.place AS place_b, CAST(sum(a.y * b.y) AS DOUBLE) AS oo, CAST(sum(a.y::HUGEINT * b.e_e6) AS DOUBLE) AS oe,
           CAST(sum(a.e_e6::HUGEINT * b.y) AS DOUBLE) AS eo, CAST(sum(a.e_e6::HUGEINT * b.e_e6) AS DOUBLE) AS ee
    FROM change_rows a JOIN change_rows b USING (patient_no)
    GROUP BY a.place, b.place
)
SELECT a.site, a.period, b.site, b.period, oo, oe, eo, ee
FROM pairs
JOIN places a ON a.place = place_a
JOIN places b ON b.place = place_b
ORDER BY a.site, a.period, b.site, b.period
