-- Question:   how much trouble does each combination of case mix and arch let expect?
-- Unit:       one row per comparison, combination and arch
-- Parameters: $1 by comparison and combination: comparison, number of the combination, band, rate, lean upper, lean lower. $2 by
--             comparison: comparison, bands, events per share in the commonest combination without the habit in upper and in lower dentures,
--             ratio by case mix, events per share with the habit. $3 comparisons in all. Fields joined by commas, rows by semicolons
-- Columns:    task, mix (the number of combination and arch), key (mix times the comparisons in all, plus comparison), band (of expected trouble, from 0), bands (how many), rate (expected trouble
--             relative to the commonest combination), lean (the share with the habit to expect), fitted and fitted_with (events per share
--             without the habit and with it), exposed_rate (events per share with the habit)
-- Order:      task; readers join
CREATE OR REPLACE TEMP TABLE pair_scores AS
WITH mixes AS (
    SELECT CAST(f[1] AS INTEGER) AS task, CAST(f[2] AS BIGINT) AS mix, CAST(f[3] AS INTEGER) AS band, CAST(f[4] AS DOUBLE) AS rate,
           CAST(f[5] AS DOUBLE) AS lean_upper, CAST(f[6] AS DOUBLE) AS lean_lower
    FROM (SELECT string_split(unnest(string_split($1, ';')), ',') AS f)
), tasks AS (
    SELECT CAST(f[1] AS INTEGER) AS task, CAST(f[2] AS INTEGER) AS bands, CAST(f[3] AS DOUBLE) AS base_upper, CAST(f[4] AS DOUBLE) AS base_lower,
           CAST(f[5] AS DOUBLE) AS ratio, CAST(f[6] AS DOUBLE) AS exposed_rate
    FROM (SELECT string_split(unnest(string_split($2, ';')), ',') AS f)
)
SELECT task, CAST(mixes.mix * 2 + upper AS INTEGER) AS mix, (mixes.mix * 2 + upper) * CAST($3 AS BIGINT) + task AS key, band, bands, rate, CASE upper WHEN 1 THEN lean_upper ELSE lean_lower END AS lean,
       rate * CASE upper WHEN 1 THEN base_upper ELSE base_lower END AS fitted, fitted * ratio AS fitted_with, exposed_rate
FROM mixes
JOIN tasks USING (task)
CROSS JOIN (VALUES (0), (1)) AS arches(upper)
ORDER BY task
