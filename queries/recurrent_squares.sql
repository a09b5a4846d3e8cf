-- Question:   what is the cluster-robust variance of each group's mean cumulative function made of?
-- Unit:       one row per dimension and code
-- Parameters: none; reads recurrent_influence
-- Columns:    dimension, code, patients, squares (sum of squared pulls, unit 1)
-- Order:      dimension, code
SELECT dimension, code, count(*) AS patients, CAST(sum(pull * pull) AS DOUBLE) / 1e24 AS squares
FROM recurrent_influence
GROUP BY dimension, code
ORDER BY dimension, code
