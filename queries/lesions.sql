-- Question:   which places were sore at visits some days apart without a recorded review?
-- Unit:       one row per case, arch, zone and side
-- Parameters: $1 days apart from which a place is listed, $2 days apart from which it is to be checked; reads spots_seen and zone_places
-- Columns:    case_id, clinician, arch, zone, side, first and last day (from records), level (look or check)
-- Order:      level, clinician, case_id, arch, zone, side
-- A review counts when a visit of the case records it on the last sore day or later.
WITH apart AS (
    SELECT case_id, upper, place, min(day) AS first_day, max(day) AS last_day
    FROM spots_seen
    GROUP BY case_id, upper, place
    HAVING max(day) - min(day) >= CAST($1 AS INTEGER)
), places AS (
    SELECT a.case_id, CASE WHEN a.upper THEN 'upper' ELSE 'lower' END AS arch, z.zone, z.side, a.first_day, a.last_day
    FROM apart a JOIN zone_places z USING (place)
)
SELECT p.case_id, c.clinician, p.arch, p.zone, p.side, p.first_day, p.last_day,
       CASE WHEN p.last_day - p.first_day >= CAST($2 AS INTEGER) THEN 'check' ELSE 'look' END AS level
FROM places p JOIN cases c USING (case_id)
WHERE NOT EXISTS (SELECT 1 FROM visits r WHERE r.case_id = p.case_id AND r.lesion_review = 'yes' AND r.day >= p.last_day)
ORDER BY level, c.clinician, p.case_id, p.arch, p.zone, p.side
