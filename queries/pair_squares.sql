-- Question:   how do dentures of one patient vary together?
-- Unit:       one row per comparison and the cells and sides of two dentures of one patient, a before b
-- Parameters: none; the number of comparisons is filled in; reads pair_products and pair_scores
-- Columns:    task, cell_a, exposed_a, cell_b, exposed_b, twos (pairs of patients with two dentures); the sums over pairs of the
--             products of a and b: y y, y share, share y, share share, y size, size y, size size, share size, size share; and with m, the score
--             by case mix, and r, the pull on the rate with the habit: of m m, and of m r + r m
-- Order:      task, cell_a, exposed_a, cell_b, exposed_b
-- What is no whole number is rounded to billionths by combination, so that sums are the same in any order.
WITH scored AS (
    SELECT p.task, p.sides >= 2 AS exposed_a, p.sides % 2 = 1 AS exposed_b, p.twos, p.yy, p.ys_e9 / 1e9 AS ys, p.sy_e9 / 1e9 AS sy, p.ss_e18 / 1e18 AS ss, a.rate AS rate_a, b.rate AS rate_b, a.exposed_rate,
           p.place_a * a.bands + a.band AS cell_a, p.place_b * b.bands + b.band AS cell_b, p.sides // 2 - a.lean AS above_a, p.sides % 2 - b.lean AS above_b,
           CASE WHEN p.sides >= 2 THEN a.fitted_with ELSE a.fitted END AS fitted_a, CASE WHEN p.sides % 2 = 1 THEN b.fitted_with ELSE b.fitted END AS fitted_b
    FROM pair_products p
    JOIN pair_scores a ON a.key = p.mix_a * {{.Tasks}} + p.task
    JOIN pair_scores b ON b.key = p.mix_b * {{.Tasks}} + p.task
), multiplied AS (
    SELECT *, above_a * above_b * (yy - fitted_b * ys - fitted_a * sy + fitted_a * fitted_b * ss) AS mm,
           CASE WHEN exposed_b THEN above_a * (yy - exposed_rate * ys - fitted_a * sy + fitted_a * exposed_rate * ss) ELSE 0 END
           + CASE WHEN exposed_a THEN above_b * (yy - fitted_b * ys - exposed_rate * sy + exposed_rate * fitted_b * ss) ELSE 0 END AS mr
    FROM scored
)
SELECT task, cell_a, exposed_a, cell_b, exposed_b, CAST(sum(twos) AS BIGINT) AS twos, CAST(sum(yy) AS DOUBLE) AS yy,
       CAST(sum(CAST(1e9 * ys AS BIGINT)) AS DOUBLE) / 1e9 AS ys, CAST(sum(CAST(1e9 * sy AS BIGINT)) AS DOUBLE) / 1e9 AS sy,
       CAST(sum(CAST(1e9 * ss AS BIGINT)) AS DOUBLE) / 1e9 AS ss, CAST(sum(CAST(1e9 * ys * rate_b AS BIGINT)) AS DOUBLE) / 1e9 AS yz,
       CAST(sum(CAST(1e9 * sy * rate_a AS BIGINT)) AS DOUBLE) / 1e9 AS zy, CAST(sum(CAST(1e9 * ss * rate_a * rate_b AS BIGINT)) AS DOUBLE) / 1e9 AS zz,
       CAST(sum(CAST(1e9 * ss * rate_b AS BIGINT)) AS DOUBLE) / 1e9 AS sz, CAST(sum(CAST(1e9 * ss * rate_a AS BIGINT)) AS DOUBLE) / 1e9 AS zs,
       CAST(sum(CAST(1e9 * mm AS BIGINT)) AS DOUBLE) / 1e9 AS mm, CAST(sum(CAST(1e9 * mr AS BIGINT)) AS DOUBLE) / 1e9 AS mr
FROM multiplied
GROUP BY task, cell_a, exposed_a, cell_b, exposed_b
ORDER BY task, cell_a, exposed_a, cell_b, exposed_b
