-- Question:   is a unit's data good enough to speak of its care?
-- Unit:       one row per dimension and code; dimension "all" has one row for everything
-- Parameters: $1 days within which a planned visit counts as attended
-- Columns:    dimension, code, dentures, key fields filled and key fields in all (rest, occlusion, lip, clearance, seating), dentures
--             followed for that many days, dentures with a planned visit by then, dentures with two adjustments on one day,
--             verticals of occlusion on a multiple of 5 mm, verticals of occlusion in whole millimetres or finer
-- Order:      dimension, code
WITH twice AS (
    SELECT DISTINCT denture_no FROM linked_events WHERE outcome = 'adjustment_visits' GROUP BY denture_no, day HAVING sum(n) > 1
), wide AS (
    SELECT 'all' AS "all", d.site, d.clinician, coalesce(d.lab, 'not_recorded') AS lab, d.case_id, d.denture_no,
           (d.vdr_mm IS NOT NULL)::INTEGER + (d.vdo_mm IS NOT NULL)::INTEGER + (d.lip_mm IS NOT NULL)::INTEGER
               + (d.clearance_max_mm IS NOT NULL)::INTEGER + (d.band_seating <> 'not_recorded')::INTEGER AS filled,
           d.risk_days >= CAST($1 AS INTEGER) AS followed, coalesce(f.day <= CAST($1 AS INTEGER), FALSE) AS attended,
           t.denture_no IS NOT NULL AS twice, d.vdo_mm % 5 = 0 AS on_five
    FROM linked_dentures d
    LEFT JOIN linked_firsts f ON f.denture_no = d.denture_no AND f.outcome = 'planned_visit'
    LEFT JOIN twice t ON t.denture_no = d.denture_no
)
SELECT dimension, code, count(*), CAST(sum(filled) AS BIGINT), 5 * count(*), count(*) FILTER (followed), count(*) FILTER (attended),
       count(*) FILTER (twice), count(DISTINCT case_id) FILTER (on_five), count(DISTINCT case_id) FILTER (on_five IS NOT NULL)
FROM (UNPIVOT wide ON "all", site, clinician, lab INTO NAME dimension VALUE code)
GROUP BY dimension, code
ORDER BY dimension, code
