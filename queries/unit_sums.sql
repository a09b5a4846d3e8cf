-- Question:   how many events did each site, clinician and laboratory have, and how many does their case mix lead to expect?
-- Unit:       one row per dimension and code
-- Parameters: none; reads mix_expected
-- Columns:    dimension, code, n (dentures), patients, observed, expected (billionths)
-- Order:      dimension, code
SELECT dimension, code, count(*), count(DISTINCT patient_no), CAST(sum(y) AS BIGINT), CAST(sum(e_e9) AS BIGINT)
FROM (UNPIVOT (SELECT patient_no, y, e_e9, site, clinician, lab FROM mix_expected WHERE share_e9 > 0) ON site, clinician, lab INTO NAME dimension VALUE code)
GROUP BY dimension, code
ORDER BY dimension, code
