-- Question:   which places were sore at visits some days apart without a recorded review?
-- Unit:       one row per case, arch, zone and side
-- Parameters: $1 days apart from which a place is listed, $2 days apart from which it is to be checked; filled with codes and how many sides
--             a zone has
-- Columns:    case_id, clinician, upper (of the arch), place (a number for its zone and side, as zonePlaces counts them), first and last day
--             (from records), level (look or check)
-- Order:      none; the reader sorts
-- A review counts when a visit of the case records it on the last sore day or later. Places are one small number while they are grouped:
-- texts take twice the time.
WITH spots AS (
    SELECT visit_id, CAST(CASE WHEN arch = 'upper' THEN 1024 ELSE 0 END + 1 + {{.sides}} * ({{.zone.Find "zone"}} - 1) + {{.side.Of "side"}} AS SMALLINT) AS at
    FROM sore_spots
), apart AS (
    SELECT v.case_id, p.at, min(v.day) AS first_day, max(v.day) AS last_day
    FROM spots p JOIN visits v USING (visit_id)
    GROUP BY v.case_id, p.at
    HAVING max(v.day) - min(v.day) >= CAST($1 AS INTEGER)
)
SELECT p.case_id, c.clinician, p.at >= 1024 AS upper, p.at % 1024 AS place, p.first_day, p.last_day,
       CASE WHEN p.last_day - p.first_day >= CAST($2 AS INTEGER) THEN 'check' ELSE 'look' END AS level
FROM apart p JOIN cases c USING (case_id)
WHERE NOT EXISTS (SELECT 1 FROM visits r WHERE r.case_id = p.case_id AND r.lesion_review = 'yes' AND r.day >= p.last_day)
