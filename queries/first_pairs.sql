-- Question:   how did pairs of dentures of one patient leave, within one group?
-- Unit:       one row per dimension, code and pair of days and kinds
-- Parameters: none; reads first_units and group_rows
-- Columns:    dimension, code_a, day_a, kind_a, code_b (the same code), day_b, kind_b, pairs
-- Order:      all columns but the last
SELECT n.dimension, n.code AS code_a, p.day_a, p.kind_a, n.code AS code_b, p.day_b, p.kind_b, p.pairs
FROM (
    SELECT a.grp, a.day AS day_a, a.kind AS kind_a, b.day AS day_b, b.kind AS kind_b, count(*) AS pairs
    FROM first_units a JOIN first_units b ON b.grp = a.grp AND b.patient_no = a.patient_no AND a.denture_no < b.denture_no
    GROUP BY ALL
) p
JOIN (SELECT DISTINCT grp, dimension, code FROM group_rows) n USING (grp)
ORDER BY ALL
