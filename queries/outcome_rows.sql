-- Question:   how many events did each denture have, and what share of those expected by the end of the window had fallen due?
-- Unit:       one row per delivered denture whose follow-up reached a day on which anything was expected
-- Parameters: $1 shares in billionths by day from 0, in order, joined by commas; reads outcome_ends
-- Columns:    denture_no, patient_no, y (events in the window), share_e9 (share, in billionths, so that its sums are exact)
-- Order:      none; readers state their own
CREATE OR REPLACE TEMP TABLE outcome_rows AS
WITH shares AS (
    SELECT CAST(unnest(string_split($1, ',')) AS BIGINT) AS share_e9, generate_subscripts(string_split($1, ','), 1) - 1 AS day
)
SELECT e.denture_no, e.patient_no, e.y, s.share_e9
FROM outcome_ends e
JOIN shares s USING (day)
WHERE s.share_e9 > 0
