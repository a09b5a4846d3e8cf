-- Question:   how often does each clinician show each habit?
-- Unit:       one row per habit and clinician
-- Parameters: none
-- Columns:    habit, clinician, with and without counted in dentures and in cases, and those not assessable in both units
-- Order:      habit, clinician
WITH wide AS (SELECT case_id, clinician, COLUMNS('^h_') FROM linked_dentures),
long AS (FROM wide UNPIVOT INCLUDE NULLS (present FOR habit IN (COLUMNS('^h_'))))
SELECT habit[3:] AS habit, clinician,
       count(*) FILTER (present) AS with_dentures, count(*) FILTER (NOT present) AS without_dentures,
       count(DISTINCT case_id) FILTER (present) AS with_cases, count(DISTINCT case_id) FILTER (NOT present) AS without_cases,
       count(*) FILTER (present IS NULL) AS missing_dentures, count(DISTINCT case_id) FILTER (present IS NULL) AS missing_cases
FROM long
GROUP BY ALL
ORDER BY habit, clinician
