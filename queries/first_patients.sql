-- Question:   how many patients stand behind each group, and behind each dimension as a whole?
-- Unit:       one row per dimension and code, and one with code "" per dimension
-- Parameters: none; reads group_rows
-- Columns:    dimension, code, patients
-- Order:      dimension, code
SELECT dimension, code, count(DISTINCT patient_no) AS patients FROM group_rows GROUP BY dimension, code
UNION ALL
SELECT dimension, '', count(DISTINCT patient_no) FROM group_rows GROUP BY dimension
ORDER BY dimension, code
