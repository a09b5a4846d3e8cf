-- Question:   in which band of expected trouble does each denture stand?
-- Unit:       one row per denture of dose_rows
-- Parameters: $1 keys of case mix and their bands (from 0), both joined by commas, keys and bands by semicolons; $2 bands in all. Reads dose_rows
-- Columns:    patient_no, cell (stratum times bands plus band), value_e2, y, share_e9
-- Order:      none; readers group
CREATE OR REPLACE TEMP TABLE dose_banded AS
WITH bands AS (
    SELECT CAST(unnest(string_split(string_split($1, ';')[1], ',')) AS UBIGINT) AS key, CAST(unnest(string_split(string_split($1, ';')[2], ',')) AS INTEGER) AS band
)
SELECT r.patient_no, r.stratum * CAST($2 AS INTEGER) + b.band AS cell, r.value_e2, r.y, r.share_e9
FROM dose_rows r
JOIN bands b USING (key)
