-- Question:   how often does each clinician show each habit?
-- Unit:       one row per habit and clinician
-- Parameters: none
-- Columns:    habit, clinician, with and without counted in dentures and in cases, and those not assessable in both units
-- Order:      habit, clinician
-- A case is counted by one of its dentures, the upper where there is one: what is a habit of the case stands with both.
WITH uppers AS (SELECT DISTINCT case_id FROM linked_dentures WHERE arch = 'upper'),
wide AS (
    SELECT l.clinician, l.arch = 'upper' OR u.case_id IS NULL AS leads, COLUMNS('^h_')
    FROM linked_dentures l LEFT JOIN uppers u ON u.case_id = l.case_id
),
-- One number holds both counts, so that the wide table is turned only when it is small.
cells AS (SELECT clinician, leads, count(*) AS n, count(COLUMNS('^h_')) * 4294967296 + coalesce(count_if(COLUMNS('^h_')), 0) FROM wide GROUP BY clinician, leads),
long AS (
    SELECT habit, clinician, leads, n, CAST(counts // 4294967296 AS BIGINT) AS assessed, CAST(counts % 4294967296 AS BIGINT) AS present
    FROM (UNPIVOT cells ON COLUMNS('^h_') INTO NAME habit VALUE counts)
)
SELECT habit[3:] AS habit, clinician,
       CAST(sum(present) AS BIGINT) AS with_dentures, CAST(sum(assessed - present) AS BIGINT) AS without_dentures,
       CAST(coalesce(sum(present) FILTER (leads), 0) AS BIGINT) AS with_cases, CAST(coalesce(sum(assessed - present) FILTER (leads), 0) AS BIGINT) AS without_cases,
       CAST(sum(n - assessed) AS BIGINT) AS missing_dentures, CAST(coalesce(sum(n - assessed) FILTER (leads), 0) AS BIGINT) AS missing_cases
FROM long
GROUP BY habit, clinician
ORDER BY habit, clinician
