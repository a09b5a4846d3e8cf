-- Question:   how do dentures and events spread over case mix, arch and the habit?
-- Unit:       one row per comparison and combination of case mix, arch and the comparison's habit
-- Parameters: none; reads pair_groups
-- Columns:    as pair_groups, with the arch (upper) in place of clinician and arch
-- Order:      task, mix, upper, exposed
SELECT task, mix, place % 2 = 1 AS upper, exposed, CAST(sum(n) AS BIGINT) AS n, CAST(sum(share_e9) AS BIGINT) AS share_e9, CAST(sum(y) AS BIGINT) AS y, CAST(sum(share_hit_e9) AS BIGINT) AS share_hit_e9,
       CAST(sum(yy) AS DOUBLE) AS yy, CAST(sum(y_share_e9) AS DOUBLE) AS y_share_e9, CAST(sum(share_share_e18) AS DOUBLE) AS share_share_e18
FROM pair_groups
GROUP BY task, mix, place % 2, exposed
ORDER BY task, mix, upper, exposed
