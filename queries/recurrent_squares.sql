-- Question:   what is the cluster-robust variance of each group's mean cumulative function made of?
-- Unit:       one row per dimension and code
-- Parameters: none; reads recurrent_influence and group_rows
-- Columns:    dimension, code, patients, squares (sum of squared pulls, unit 1)
-- Order:      dimension, code
SELECT n.dimension, n.code, s.patients, s.squares
FROM (SELECT grp, count(*) AS patients, CAST(sum(pull * pull) AS DOUBLE) / 1e24 AS squares FROM recurrent_influence GROUP BY grp) s
JOIN (SELECT DISTINCT grp, dimension, code FROM group_rows) n USING (grp)
ORDER BY n.dimension, n.code
