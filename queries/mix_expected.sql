-- Question:   how many events did each denture have, and how many does its case mix lead to expect at its follow-up?
-- Unit:       one row per delivered denture
-- Parameters: $1 expected events in the whole window by pattern from 1, in billionths, joined by commas; reads mix_rows and outcome_rows
-- Columns:    as mix_rows, with y, e_e9 (expected events in billionths, so that sums are exact) and share_e9; all 0 where nothing was due yet
-- Order:      none; readers state their own
CREATE OR REPLACE TEMP TABLE mix_expected AS
WITH rates AS (
    SELECT CAST(unnest(string_split($1, ',')) AS BIGINT) AS rate_e9, generate_subscripts(string_split($1, ','), 1) AS pattern
)
SELECT m.denture_no, m.patient_no, m.site, m.clinician, m.lab, m.period,
       coalesce(o.y, 0) AS y, coalesce(o.share_e9, 0) AS share_e9,
       CAST((coalesce(o.share_e9, 0)::HUGEINT * r.rate_e9 + 500000000) // 1000000000 AS BIGINT) AS e_e9
FROM mix_rows m
JOIN rates r USING (pattern)
LEFT JOIN outcome_rows o USING (denture_no)
