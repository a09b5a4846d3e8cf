-- Question:   what was observed and expected in each cell?
-- Unit:       one row per cell
-- Parameters: none; reads mix_expected
-- Columns:    cell, n (dentures), due (those of which something was due), y, e_e9 and share_e9 (summed)
-- Order:      none; readers state their own
CREATE OR REPLACE TEMP TABLE mix_sums AS
SELECT cell, count(*) AS n, count(*) FILTER (share_e9 > 0) AS due, CAST(sum(y) AS BIGINT) AS y, CAST(sum(e_e9) AS BIGINT) AS e_e9, CAST(sum(share_e9) AS BIGINT) AS share_e9
FROM mix_expected
GROUP BY cell
