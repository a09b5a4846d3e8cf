-- Question:   how did pairs of dentures of one patient leave, also where the two stand on different sides of a contrast?
-- Unit:       one row per dimension and pair of codes, days and kinds
-- Parameters: none; reads first_units and group_rows
-- Columns:    dimension, code_a, day_a, kind_a, code_b, day_b, kind_b, pairs
-- Order:      all columns but the last
WITH named AS (
    SELECT *, CAST(dense_rank() OVER (ORDER BY dimension) AS INTEGER) AS dim FROM (SELECT DISTINCT grp, dimension, code FROM group_rows)
), placed AS (
    SELECT u.*, n.dim FROM first_units u JOIN named n USING (grp)
)
SELECT x.dimension, x.code AS code_a, p.day_a, p.kind_a, y.code AS code_b, p.day_b, p.kind_b, p.pairs
FROM (
    SELECT a.grp AS grp_a, b.grp AS grp_b, a.day AS day_a, a.kind AS kind_a, b.day AS day_b, b.kind AS kind_b, count(*) AS pairs
    FROM placed a JOIN placed b ON b.dim = a.dim AND b.patient_no = a.patient_no AND a.denture_no < b.denture_no
    GROUP BY ALL
) p
JOIN named x ON x.grp = p.grp_a
JOIN named y ON y.grp = p.grp_b
ORDER BY ALL
