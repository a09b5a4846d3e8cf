-- Question:   how many events did each site, clinician and laboratory have, and how many does their case mix lead to expect?
-- Unit:       one row per dimension and code
-- Parameters: none; reads mix_expected, mix_sums and mix_cells
-- Columns:    dimension, code, n (dentures), patients, observed, expected (billionths)
-- Order:      dimension, code
WITH seen AS (
    SELECT DISTINCT patient_no, cell FROM mix_expected WHERE share_e9 > 0
), units AS (
    SELECT cell, CAST(dense_rank() OVER (ORDER BY site) AS INTEGER) AS site, CAST(dense_rank() OVER (ORDER BY clinician) AS INTEGER) AS clinician,
           CAST(dense_rank() OVER (ORDER BY lab) AS INTEGER) AS lab
    FROM mix_cells
), people AS (
    SELECT 'site' AS dimension, no, count(*) AS patients FROM (SELECT DISTINCT patient_no, site AS no FROM seen JOIN units USING (cell)) GROUP BY no
    UNION ALL
    SELECT 'clinician', no, count(*) FROM (SELECT DISTINCT patient_no, clinician AS no FROM seen JOIN units USING (cell)) GROUP BY no
    UNION ALL
    SELECT 'lab', no, count(*) FROM (SELECT DISTINCT patient_no, lab AS no FROM seen JOIN units USING (cell)) GROUP BY no
), sums AS (
    SELECT dimension, code, sum(due) AS n, sum(y) AS y, sum(e_e9) AS e_e9
    FROM (UNPIVOT (SELECT due, y, e_e9, c.site, c.clinician, c.lab FROM mix_sums JOIN mix_cells c USING (cell) WHERE due > 0) ON site, clinician, lab INTO NAME dimension VALUE code)
    GROUP BY dimension, code
), names AS (
    SELECT DISTINCT dimension, code, no
    FROM (
        SELECT 'site' AS dimension, c.site AS code, u.site AS no FROM mix_cells c JOIN units u USING (cell)
        UNION ALL
        SELECT 'clinician', c.clinician, u.clinician FROM mix_cells c JOIN units u USING (cell)
        UNION ALL
        SELECT 'lab', c.lab, u.lab FROM mix_cells c JOIN units u USING (cell)
    )
)
SELECT s.dimension, s.code, CAST(s.n AS BIGINT), p.patients, CAST(s.y AS BIGINT), CAST(s.e_e9 AS BIGINT)
FROM sums s
JOIN names USING (dimension, code)
JOIN people p USING (dimension, no)
ORDER BY s.dimension, s.code
