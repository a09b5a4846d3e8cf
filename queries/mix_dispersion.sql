-- Question:   by how much do patients' events scatter about what their case mix leads to expect?
-- Unit:       one row
-- Parameters: none; reads mix_expected
-- Columns:    patients, observed, expected (billionths), squares (sum over patients of squared observed minus expected, in 1e-12)
-- Order:      none, one row
SELECT count(*), CAST(coalesce(sum(y), 0) AS BIGINT), CAST(coalesce(sum(e_e9), 0) AS BIGINT),
       CAST(coalesce(sum(r * r), 0) AS DOUBLE)
FROM (
    SELECT patient_no, sum(y) AS y, sum(e_e9) AS e_e9, CAST(sum(y) * 1000000 - sum(e_e9) // 1000 AS HUGEINT) AS r
    FROM mix_expected WHERE share_e9 > 0 GROUP BY patient_no
)
