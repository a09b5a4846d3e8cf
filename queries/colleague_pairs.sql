-- Question:   how did pairs of dentures of one patient leave whose records two clinicians took?
-- Unit:       one row per clinician and pair of days and kinds
-- Parameters: none; reads first_units and group_rows of clinician_rows
-- Columns:    dimension, code_a (one of the two clinicians), day_a, kind_a, code_b (as code_a), day_b, kind_b, pairs
-- Order:      all columns but the last
WITH mixed AS (
    SELECT a.grp AS grp_a, a.day AS day_a, a.kind AS kind_a, b.grp AS grp_b, b.day AS day_b, b.kind AS kind_b
    FROM first_units a JOIN first_units b ON b.patient_no = a.patient_no AND a.denture_no < b.denture_no
    WHERE a.grp > 1 AND b.grp > 1 AND a.grp <> b.grp
)
SELECT 'clinician' AS dimension, n.code AS code_a, day_a, kind_a, n.code AS code_b, day_b, kind_b, count(*) AS pairs
FROM (SELECT grp_a AS grp, * EXCLUDE (grp_a, grp_b) FROM mixed UNION ALL SELECT grp_b, * EXCLUDE (grp_a, grp_b) FROM mixed) m
JOIN (SELECT DISTINCT grp, code FROM group_rows WHERE grp > 1) n USING (grp)
GROUP BY ALL
ORDER BY ALL
