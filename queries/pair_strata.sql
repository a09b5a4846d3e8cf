-- Question:   how many dentures and events are there on either side in each stratum?
-- Unit:       one row per cell and side
-- Parameters: none; reads pair_sized
-- Columns:    cell, exposed, n, y, share_e9, size_e9, and the sums of size_e9 times lean and its square
-- Order:      cell, exposed
SELECT cell, exposed, count(*) AS n, CAST(sum(y) AS BIGINT) AS y, CAST(sum(share_e9) AS BIGINT) AS share_e9, CAST(sum(size_e9) AS BIGINT) AS size_e9,
       CAST(sum(CAST(round(size_e9 * lean) AS BIGINT)) AS DOUBLE) AS lean_e9, CAST(sum(CAST(round(size_e9 * lean * lean) AS BIGINT)) AS DOUBLE) AS lean2_e9
FROM pair_sized
GROUP BY cell, exposed
ORDER BY cell, exposed
