-- Question:   how did pairs of dentures of one patient leave, also where the two stand on different sides of a contrast?
-- Unit:       one row per dimension and pair of codes, days and kinds
-- Parameters: none; reads first_units
-- Columns:    dimension, code_a, day_a, kind_a, code_b, day_b, kind_b, pairs
-- Order:      all columns but the last
SELECT a.dimension, a.code AS code_a, a.day AS day_a, a.kind AS kind_a, b.code AS code_b, b.day AS day_b, b.kind AS kind_b, count(*) AS pairs
FROM first_units a
JOIN first_units b ON b.dimension = a.dimension AND b.patient_key = a.patient_key
     AND (a.case_id < b.case_id OR (a.case_id = b.case_id AND a.arch < b.arch))
GROUP BY ALL
ORDER BY ALL
