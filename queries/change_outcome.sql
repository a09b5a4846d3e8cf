-- Question:   what did each denture bring in events beside what was expected, by site and period?
-- Unit:       one row per patient, site and period
-- Parameters: none; reads mix_expected
-- Columns:    patient_no, site, period, n (dentures), y (events), e_e6 (expected, in millionths)
-- Order:      none; readers state their own
CREATE OR REPLACE TEMP TABLE change_rows AS
SELECT patient_no, site, period, count(*) AS n, CAST(sum(y) AS BIGINT) AS y, CAST(sum(e_e9) // 1000 AS BIGINT) AS e_e6
FROM mix_expected
WHERE period IS NOT NULL AND e_e9 > 0
GROUP BY patient_no, site, period
