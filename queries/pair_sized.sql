-- Question:   in which stratum does each denture stand, and how much trouble does its case mix let expect?
-- Unit:       one row per denture in which the habit, whose column stands for {exposure}, can be assessed
-- Parameters: $1 scores by case mix in its order: band, expected trouble relative to the mean, and the share with the
--             habit that the case mix lets expect in upper and in lower dentures; fields joined by commas, mixes by
--             semicolons. $2 bands in all. Reads pair_rows
-- Columns:    patient_no, clinician_no, upper, cell (number of clinician, arch and band), exposed, y, share_e9,
--             size_e9 (share times expected trouble, in billionths, so that sums are exact), lean
-- Order:      none; readers group
CREATE OR REPLACE TEMP TABLE pair_sized AS
WITH scores AS (
    SELECT mix, CAST(f[1] AS INTEGER) AS band, CAST(f[2] AS DOUBLE) AS rate, CAST(f[3] AS DOUBLE) AS lean_upper, CAST(f[4] AS DOUBLE) AS lean_lower
    FROM (SELECT generate_subscripts(string_split($1, ';'), 1) AS mix, string_split(unnest(string_split($1, ';')), ',') AS f)
)
SELECT r.patient_no, r.clinician_no, r.upper, (r.clinician_no * 2 + CAST(r.upper AS INTEGER)) * CAST($2 AS INTEGER) + s.band AS cell,
       r.{exposure} AS exposed, r.y, r.share_e9, CAST(round(r.share_e9 * s.rate) AS BIGINT) AS size_e9,
       CASE WHEN r.upper THEN s.lean_upper ELSE s.lean_lower END AS lean
FROM pair_rows r
JOIN scores s USING (mix)
WHERE r.{exposure} IS NOT NULL
