-- Question:   by how much do patients of several clinicians pull on the colleagues of each, with that clinician's marks and with the others'?
-- Unit:       one row per clinician with such a patient
-- Parameters: as cohort_squares, for the colleagues of each clinician; reads cohort and cohort_events
-- Columns:    code (number of the clinician), patients, and for visits, minutes and spots the sums of twice the product of the pull of the
--             clinician's own marks and that of the others' marks (in units of 1e-24)
-- Order:      code
WITH w AS MATERIALIZED (
    SELECT CAST(string_split($1, ',') AS BIGINT[]) AS visit, CAST(string_split($2, ',') AS BIGINT[]) AS visit_end, CAST(string_split($3, ',') AS BIGINT[]) AS minute_end,
           CAST(string_split($4, ',') AS BIGINT[]) AS spot, CAST(string_split($5, ',') AS BIGINT[]) AS spot_end
), mixed AS (
    SELECT patient_no FROM cohort GROUP BY patient_no HAVING min(c{{.No}}) <> max(c{{.No}})
), whose AS (
    SELECT DISTINCT patient_no, CAST(c{{.No}} AS INTEGER) AS code FROM cohort JOIN mixed USING (patient_no)
), marks AS (
    SELECT w.patient_no, w.code, e.c{{.No}} = w.code AS own, w.code * {{.Days}} + e.day + 1 AS slot, NULL AS short, e.visits, e.minutes, e.spots
    FROM whose w JOIN cohort_events e USING (patient_no)
    UNION ALL
    SELECT w.patient_no, w.code, c.c{{.No}} = w.code, w.code * {{.Days}} + least(c.left_as // 2, {{.Visit}}) + 1, w.code * {{.Days}} + least(c.left_as // 2, {{.Sore}}) + 1, NULL, NULL, NULL
    FROM whose w JOIN cohort c USING (patient_no)
), pulls AS (
    SELECT patient_no, code, own, CASE WHEN short IS NULL THEN visits * visit[slot] ELSE -visit_end[slot] END AS v,
           CASE WHEN short IS NULL THEN minutes * visit[slot] ELSE -minute_end[slot] END AS m, CASE WHEN short IS NULL THEN spots * spot[slot] ELSE -spot_end[short] END AS s
    FROM marks, w
), patients AS (
    SELECT patient_no, code, coalesce(sum(v) FILTER (own), 0) AS v, coalesce(sum(v) FILTER (NOT own), 0) AS other_v, coalesce(sum(m) FILTER (own), 0) AS m,
           coalesce(sum(m) FILTER (NOT own), 0) AS other_m, coalesce(sum(s) FILTER (own), 0) AS s, coalesce(sum(s) FILTER (NOT own), 0) AS other_s
    FROM pulls
    GROUP BY patient_no, code
)
SELECT code, count(*), CAST(sum(2 * v * other_v) AS HUGEINT), CAST(sum(2 * m * other_m) AS HUGEINT), CAST(sum(2 * s * other_s) AS HUGEINT)
FROM patients
GROUP BY code
ORDER BY code
