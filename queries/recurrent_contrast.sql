-- Question:   what is the cluster-robust variance of the difference with minus without, standardised over arch?
-- Unit:       one row per habit
-- Parameters: $1 outcome in linked_events, $2 last day of its window; reads recurrent_days and group_rows as habit_rows made them
-- Columns:    dimension (habit), patients, squares (sum of squared pulls on the difference, unit 1)
-- Order:      dimension
-- A pull is what recurrent_influence says, here weighed and summed over a habit at once.
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
    SELECT s.grp, s.dimension, CAST(z.with_n * CASE WHEN s.is_with THEN 1 ELSE -1 END AS HUGEINT) AS weight
    FROM sides s JOIN sizes z ON z.dimension = s.dimension AND z.arch = s.arch
), risk AS (
    SELECT grp, day, events, CAST(sum(ends) OVER (PARTITION BY grp ORDER BY day DESC) AS DOUBLE) AS at_risk
    FROM recurrent_days
), steps AS (
    SELECT p.dimension, r.grp, r.day,
           p.weight * CAST(round(1e12 / r.at_risk) AS HUGEINT) AS inverse,
           p.weight * sum(CAST(round(1e12 * r.events / (r.at_risk * r.at_risk)) AS HUGEINT)) OVER (PARTITION BY r.grp ORDER BY r.day) AS hazard
    FROM risk r JOIN parts p USING (grp)
), patients AS (
    SELECT dimension, patient_no, sum(pull) AS pull
    FROM (
        SELECT s.dimension, g.patient_no, -s.hazard AS pull
        FROM group_rows g JOIN steps s ON s.grp = g.grp AND s.day = least(g.risk_days, CAST($2 AS INTEGER))
        UNION ALL
        SELECT s.dimension, g.patient_no, e.n * s.inverse
        FROM group_rows g
        JOIN linked_events e ON e.denture_no = g.denture_no
        JOIN steps s ON s.grp = g.grp AND s.day = e.day
        WHERE e.outcome = CAST($1 AS VARCHAR)
    )
    GROUP BY dimension, patient_no
)
SELECT p.dimension, count(*) AS patients,
       CAST(sum(p.pull * p.pull) AS DOUBLE) / 1e24 / (CAST(any_value(t.with_all) AS DOUBLE) * CAST(any_value(t.with_all) AS DOUBLE)) AS squares
FROM patients p JOIN totals t USING (dimension)
GROUP BY p.dimension
ORDER BY p.dimension
