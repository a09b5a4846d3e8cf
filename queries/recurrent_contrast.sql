-- Question:   what is the cluster-robust variance of the difference with minus without, standardised over arch?
-- Unit:       one row per habit
-- Parameters: none; reads recurrent_influence and group_rows as habit_rows made them
-- Columns:    dimension (habit), patients, squares (sum of squared pulls on the difference, unit 1)
-- Order:      dimension
-- An arch weighs as many dentures as have the habit there; an arch without both sides is left out.
WITH sizes AS (
    SELECT dimension, arch, count(*) FILTER (code LIKE 'with|%') AS with_n
    FROM group_rows
    GROUP BY dimension, arch
    HAVING count(*) FILTER (code LIKE 'with|%') > 0 AND count(*) FILTER (code LIKE 'without|%') > 0
), totals AS (
    SELECT dimension, sum(with_n) AS with_all FROM sizes GROUP BY dimension
), patients AS (
    SELECT i.dimension, i.patient_key, sum(i.pull * z.with_n * CASE WHEN i.code LIKE 'with|%' THEN 1 ELSE -1 END) AS pull
    FROM recurrent_influence i
    JOIN sizes z ON z.dimension = i.dimension AND z.arch = split_part(i.code, '|', 2)
    GROUP BY i.dimension, i.patient_key
)
SELECT p.dimension, count(*) AS patients,
       CAST(sum(p.pull * p.pull) AS DOUBLE) / 1e24 / (CAST(any_value(t.with_all) AS DOUBLE) * CAST(any_value(t.with_all) AS DOUBLE)) AS squares
FROM patients p JOIN totals t USING (dimension)
GROUP BY p.dimension
ORDER BY p.dimension
