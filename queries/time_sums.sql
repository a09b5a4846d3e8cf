-- Question:   how many events fell to the dentures of each period of records, beside those expected?
-- Unit:       one row per dimension, code and period
-- Parameters: none; reads mix_sums and mix_cells
-- Columns:    dimension (all, site, clinician), code, period, n (dentures delivered), observed, expected (billionths), share_e9 (summed)
-- Order:      dimension, code, period
SELECT dimension, code, period, CAST(sum(n) AS BIGINT), CAST(sum(y) AS BIGINT), CAST(sum(e_e9) AS BIGINT), CAST(sum(share_e9) AS BIGINT)
FROM (UNPIVOT (SELECT c.period, s.n, s.y, s.e_e9, s.share_e9, 'all' AS "all", c.site, c.clinician FROM mix_sums s JOIN mix_cells c USING (cell) WHERE c.period <> '')
      ON "all", site, clinician INTO NAME dimension VALUE code)
GROUP BY dimension, code, period
ORDER BY dimension, code, period
