-- Question:   how many dentures and events are there on either side in each stratum, and how much do they vary?
-- Unit:       one row per comparison, cell and side
-- Parameters: none; reads pair_groups and pair_scores
-- Columns:    task, cell (number of clinician, arch and band), exposed, n, y, share; sums of size (share times expected trouble), size
--             times lean and its square; of y squared, y share, share squared, y size, share size and size squared
-- Order:      task, cell, exposed
-- What is no whole number is rounded to billionths by group, so that sums are the same in any order.
SELECT task, cell, exposed, CAST(sum(n) AS BIGINT) AS n, CAST(sum(y) AS BIGINT) AS y, CAST(sum(share_e9) AS BIGINT) AS share_e9,
       CAST(sum(CAST(round(size_e9) AS BIGINT)) AS BIGINT) AS size_e9, CAST(sum(CAST(round(size_e9 * lean) AS BIGINT)) AS DOUBLE) AS lean_e9,
       CAST(sum(CAST(round(size_e9 * lean * lean) AS BIGINT)) AS DOUBLE) AS lean2_e9, CAST(sum(yy) AS DOUBLE) AS yy, CAST(sum(y_share_e9) AS DOUBLE) / 1e9 AS y_share,
       CAST(sum(share_share_e18) AS DOUBLE) / 1e18 AS share_share, CAST(sum(CAST(round(y_share_e9 * rate) AS BIGINT)) AS DOUBLE) / 1e9 AS y_size,
       CAST(sum(CAST(round(share_share_e18 / 1e9 * rate) AS BIGINT)) AS DOUBLE) / 1e9 AS share_size,
       CAST(sum(CAST(round(share_share_e18 / 1e9 * rate * rate) AS BIGINT)) AS DOUBLE) / 1e9 AS size_size
FROM (
    SELECT g.*, g.share_e9 * s.rate AS size_e9, s.rate, CASE WHEN g.place % 2 = 1 THEN s.lean_upper ELSE s.lean_lower END AS lean,
           g.place * s.bands + s.band AS cell
    FROM pair_groups g
    JOIN pair_scores s USING (task, mix)
    WHERE g.exposed IS NOT NULL
)
GROUP BY task, cell, exposed
ORDER BY task, cell, exposed
