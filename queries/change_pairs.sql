-- Question:   how do the events of one patient hang together, within a site and period and across them?
-- Unit:       one row per ordered pair of cells that share a patient (a cell with itself included)
-- Parameters: none; reads change_rows
-- Columns:    site and period of the first cell, of the second, and the sums over shared patients of observed x observed,
--             observed x expected, expected x observed (both in millionths), expected x expected (in 1e-12)
-- Order:      in the order of the columns
SELECT a.site, a.period, b.site, b.period, CAST(sum(a.y * b.y) AS DOUBLE), CAST(sum(a.y::HUGEINT * b.e_e6) AS DOUBLE),
       CAST(sum(a.e_e6::HUGEINT * b.y) AS DOUBLE), CAST(sum(a.e_e6::HUGEINT * b.e_e6) AS DOUBLE)
FROM change_rows a JOIN change_rows b USING (patient_no)
GROUP BY a.site, a.period, b.site, b.period
ORDER BY a.site, a.period, b.site, b.period
