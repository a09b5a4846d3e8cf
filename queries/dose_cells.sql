-- Question:   how many dentures and events are there at each value in each stratum and band?
-- Unit:       one row per cell and value
-- Parameters: none; reads dose_banded
-- Columns:    cell, value_e2, n, y, share_e9
-- Order:      cell, value_e2
SELECT cell, value_e2, count(*) AS n, CAST(sum(y) AS BIGINT) AS y, CAST(sum(share_e9) AS BIGINT) AS share_e9
FROM dose_banded
GROUP BY cell, value_e2
ORDER BY cell, value_e2
