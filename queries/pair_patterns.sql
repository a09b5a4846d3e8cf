-- Question:   how do dentures and events spread over case mix, arch and the habit?
-- Unit:       one row per combination of case mix, arch and the habit's column, which stands for {exposure}
-- Parameters: none; reads pair_rows
-- Columns:    mix, upper, exposed (NULL where it cannot be assessed), n, share_e9 and y summed, and the same of those with an event
-- Order:      mix, upper, exposed
SELECT mix, upper, {exposure} AS exposed, count(*) AS n, CAST(sum(share_e9) AS BIGINT) AS share_e9, CAST(sum(y) AS BIGINT) AS y,
       count(*) FILTER (y > 0) AS n_hit, CAST(coalesce(sum(share_e9) FILTER (y > 0), 0) AS BIGINT) AS share_hit_e9
FROM pair_rows
GROUP BY mix, upper, exposed
ORDER BY mix, upper, exposed
