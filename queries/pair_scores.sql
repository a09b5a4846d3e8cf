-- Question:   how much trouble does each combination of case mix let expect?
-- Unit:       one row per comparison and combination
-- Parameters: $1 rows of the fields below; fields joined by commas, rows by semicolons
-- Columns:    task, mix, band (of expected trouble, from 0), bands (how many), rate (expected trouble relative to the commonest
--             combination), lean_upper and lean_lower (the share with the habit that the combination lets expect), base_upper and
--             base_lower (events per share in the commonest combination without the habit), ratio (by case mix), exposed_rate (events
--             per share with the habit)
-- Order:      none; readers join
CREATE OR REPLACE TEMP TABLE pair_scores AS
SELECT CAST(f[1] AS INTEGER) AS task, CAST(f[2] AS BIGINT) AS mix, CAST(f[3] AS INTEGER) AS band, CAST(f[4] AS INTEGER) AS bands, CAST(f[5] AS DOUBLE) AS rate,
       CAST(f[6] AS DOUBLE) AS lean_upper, CAST(f[7] AS DOUBLE) AS lean_lower, CAST(f[8] AS DOUBLE) AS base_upper, CAST(f[9] AS DOUBLE) AS base_lower,
       CAST(f[10] AS DOUBLE) AS ratio, CAST(f[11] AS DOUBLE) AS exposed_rate
FROM (SELECT string_split(unnest(string_split($1, ';')), ',') AS f)
