-- Question:   what is the cluster-robust variance of the difference with minus without, standardised over arch?
-- Unit:       one row per habit
-- Parameters: none; reads recurrent_influence and group_rows as habit_rows made them
-- Columns:    dimension (habit), patients, squares (sum of squared pulls on the difference, unit 1)
-- Order:      dimension
-- An arch weighs as many dentures as have the habit there; an arch without both sides is left out.
WITH sides AS (
    SELECT grp, dimension, arch, code LIKE 'with|%' AS is_with, count(*) AS n FROM group_rows GROUP BY ALL
), sizes AS (
    SELECT dimension, arch, sum(n) FILTER (is_with) AS with_n
    FROM sides
    GROUP BY dimension, arch
    HAVING count(*) = 2
), totals AS (
    SELECT dimension, sum(with_n) AS with_all FROM sizes GROUP BY dimension
), parts AS (
    SELECT s.grp, s.dimension, z.with_n * CASE WHEN s.is_with THEN 1 ELSE -1 END AS weight
    FROM sides s JOIN sizes z ON z.dimension = s.dimension AND z.arch = s.arch
), patients AS (
    SELECT p.dimension, i.patient_no, sum(i.pull * CAST(p.weight AS BIGINT)) AS pull
    FROM recurrent_influence i JOIN parts p USING (grp)
    GROUP BY p.dimension, i.patient_no
)
SELECT p.dimension, count(*) AS patients,
       CAST(sum(p.pull * p.pull) AS DOUBLE) / 1e24 / (CAST(any_value(t.with_all) AS DOUBLE) * CAST(any_value(t.with_all) AS DOUBLE)) AS squares
FROM patients p JOIN totals t USING (dimension)
GROUP BY p.dimension
ORDER BY p.dimension
