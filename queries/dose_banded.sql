-- Question:   in which band of expected trouble does each denture stand?
-- Unit:       one row per denture of dose_rows
-- Parameters: $1 the band of each case mix in its order (from 0), joined by commas; $2 bands in all. Reads dose_rows
-- Columns:    patient_no, cell (stratum times bands plus band), value_e2, y, share_e9
-- Order:      none; readers group
CREATE OR REPLACE TEMP TABLE dose_banded AS
WITH bands AS (
    SELECT generate_subscripts(string_split($1, ','), 1) AS mix, CAST(unnest(string_split($1, ',')) AS INTEGER) AS band
)
SELECT r.patient_no, r.stratum * CAST($2 AS INTEGER) + b.band AS cell, r.value_e2, r.y, r.share_e9
FROM dose_rows r
JOIN bands b USING (mix)
