-- Question:   which places were sore at visits some days apart without a recorded review?
-- Unit:       one row per case, arch, zone and side
-- Parameters: $1 days apart from which a place is listed, $2 days apart from which it is to be checked; filled with the types of codes
-- Columns:    case_id, clinician, arch, zone, side ("" not recorded), first and last day (from records), level (look or check)
-- Order:      level, clinician, case_id, arch, zone, side
-- A review counts when a visit of the case records it on the last sore day or later.
WITH seen AS (
    SELECT v.case_id, CAST(p.arch AS {{.arch}}) AS arch, CAST(p.zone AS {{.zone}}) AS zone, CAST(p.side AS {{.side}}) AS side, v.day
    FROM sore_spots p JOIN visits v USING (visit_id)
), apart AS (
    SELECT case_id, CAST(arch AS VARCHAR) AS arch, CAST(zone AS VARCHAR) AS zone, coalesce(CAST(side AS VARCHAR), '') AS side,
           min(day) AS first_day, max(day) AS last_day
    FROM seen
    GROUP BY case_id, arch, zone, side
    HAVING max(day) - min(day) >= CAST($1 AS INTEGER)
)
SELECT p.case_id, c.clinician, p.arch, p.zone, p.side, p.first_day, p.last_day,
       CASE WHEN p.last_day - p.first_day >= CAST($2 AS INTEGER) THEN 'check' ELSE 'look' END AS level
FROM apart p JOIN cases c USING (case_id)
WHERE NOT EXISTS (SELECT 1 FROM visits r WHERE r.case_id = p.case_id AND r.lesion_review = 'yes' AND r.day >= p.last_day)
ORDER BY level, c.clinician, p.case_id, p.arch, p.zone, p.side
