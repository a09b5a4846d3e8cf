-- Question:   how many patients stand behind each group, and behind each dimension as a whole?
-- Unit:       one row per dimension and code, and one with code "" per dimension
-- Parameters: none; reads first_units
-- Columns:    dimension, code, patients
-- Order:      dimension, code
SELECT dimension, coalesce(code, '') AS code, count(DISTINCT patient_key) AS patients
FROM first_units
GROUP BY GROUPING SETS ((dimension, code), (dimension))
ORDER BY dimension, code
