-- Question:   how do dentures and events spread over case mix, arch and the value to the whole millimetre?
-- Unit:       one row per combination of case mix, arch and whole millimetre
-- Parameters: $1 and $2 the least and greatest whole millimetre; values beyond count with them. Reads dose_rows
-- Columns:    key (of the case mix, as text), upper, mm, n, share_e9 and y summed
-- Order:      key, upper, mm
SELECT CAST(number AS VARCHAR) AS key, upper, mm, n, share_e9, y
FROM (
    SELECT key AS number, upper, greatest(least(CAST(round(value_e2 / 100.0) AS INTEGER), CAST($2 AS INTEGER)), CAST($1 AS INTEGER)) AS mm,
           count(*) AS n, CAST(sum(share_e9) AS BIGINT) AS share_e9, CAST(sum(y) AS BIGINT) AS y
    FROM dose_rows
    GROUP BY number, upper, mm
)
ORDER BY key, upper, mm
