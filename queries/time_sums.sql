-- Question:   how many events fell to the dentures of each period of records, beside those expected?
-- Unit:       one row per dimension, code and period
-- Parameters: none; reads mix_expected
-- Columns:    dimension (all, site, clinician), code, period, n (dentures delivered), observed, expected (billionths), share_e9 (summed)
-- Order:      dimension, code, period
SELECT dimension, code, period, count(*), CAST(sum(y) AS BIGINT), CAST(sum(e_e9) AS BIGINT), CAST(sum(share_e9) AS BIGINT)
FROM (UNPIVOT (SELECT period, y, e_e9, share_e9, 'all' AS "all", site, clinician FROM mix_expected WHERE period IS NOT NULL)
      ON "all", site, clinician INTO NAME dimension VALUE code)
GROUP BY dimension, code, period
ORDER BY dimension, code, period
