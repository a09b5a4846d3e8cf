-- Question:   what is the cluster-robust variance of the mean cumulative functions of each group made of?
-- Unit:       one row per code
-- Parameters: lists of whole numbers joined by commas, one for each code from 0 and day from 0 to the last of the longer window:
--             $1 pull of one visit (or minute), $2 pull of an end of follow-up for visits, $3 for minutes,
--             $4 pull of one spot, $5 pull of an end for spots; reads cohort and cohort_events
-- Columns:    code (number), patients, squares for visits, for minutes and for spots (sums of squared pulls, in units of 1e-24; 0 where a
--             list is too short to hold the outcome)
-- Order:      code
-- A pull is A_c of Lawless & Nadeau 1995 in units of 1e-12: whole numbers, so that sums are exact whatever their order.
WITH w AS MATERIALIZED (
    SELECT CAST(string_split($1, ',') AS BIGINT[]) AS visit, CAST(string_split($2, ',') AS BIGINT[]) AS visit_end, CAST(string_split($3, ',') AS BIGINT[]) AS minute_end,
           CAST(string_split($4, ',') AS BIGINT[]) AS spot, CAST(string_split($5, ',') AS BIGINT[]) AS spot_end
), pulls AS (
    SELECT patient_no, c{{.No}} AS code, visits * visit[CAST(c{{.No}} AS INTEGER) * {{.Days}} + day + 1] AS v, minutes * visit[CAST(c{{.No}} AS INTEGER) * {{.Days}} + day + 1] AS m,
           spots * spot[CAST(c{{.No}} AS INTEGER) * {{.Days}} + day + 1] AS s
    FROM cohort_events, w
    WHERE c{{.No}} > 0
    UNION ALL
    SELECT patient_no, c{{.No}}, -visit_end[CAST(c{{.No}} AS INTEGER) * {{.Days}} + least(left_as // 2, {{.Visit}}) + 1], -minute_end[CAST(c{{.No}} AS INTEGER) * {{.Days}} + least(left_as // 2, {{.Visit}}) + 1],
           -spot_end[CAST(c{{.No}} AS INTEGER) * {{.Days}} + least(left_as // 2, {{.Sore}}) + 1]
    FROM cohort, w
    WHERE c{{.No}} > 0
), patients AS (
    SELECT patient_no, code, sum(v) AS v, sum(m) AS m, sum(s) AS s FROM pulls GROUP BY patient_no, code
)
SELECT code, count(*), CAST(coalesce(sum(v * v), 0) AS HUGEINT), CAST(coalesce(sum(m * m), 0) AS HUGEINT), CAST(coalesce(sum(s * s), 0) AS HUGEINT)
FROM patients
GROUP BY code
ORDER BY code
