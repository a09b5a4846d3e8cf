-- Question:   which cases are most worth opening, and by which rule?
-- Unit:       one row per case and rule, of the cases listed
-- Parameters: $1 adjustment visits within the window that count as many, $2 how many cases are listed, $3 whether so many are of each
--             clinician or in all
-- Columns:    case_id, site, clinician, rule, fact (a short phrase), weight (1-3)
-- Order:      case_id, rule
-- The cases whose rules weigh most are picked before anything is put into words or in order. A rule weighs the same in every case.
WITH found AS MATERIALIZED (
    SELECT case_id, 'remake_without_cause' AS rule, arch || ' remade, no cause recorded' AS fact, 3 AS weight
    FROM remakes WHERE scope = 'remake' AND coalesce(cause, 'unknown') = 'unknown'
    UNION ALL
    SELECT d.case_id, 'many_visits', d.arch || ': ' || CAST(v.n AS VARCHAR) || ' adjustment visits', 2
    FROM (SELECT denture_no, count(*) AS n FROM linked_events WHERE outcome = 'adjustment_visits' GROUP BY denture_no HAVING count(*) >= CAST($1 AS INTEGER)) v
    JOIN linked_dentures d USING (denture_no)
    UNION ALL
    SELECT v.case_id, 'ulcer_twice', p.arch || ': ulcer at ' || CAST(count(DISTINCT v.visit_id) AS VARCHAR) || ' visits', 3
    FROM sore_spots p JOIN visits v USING (visit_id) WHERE p.grade = 3 GROUP BY v.case_id, p.arch HAVING count(DISTINCT v.visit_id) >= 2
    UNION ALL
    SELECT case_id, 'does_not_add_up', 'freeway space written down differs from rest minus occlusion', 1
    FROM linked_dentures WHERE h_does_not_add_up
    UNION ALL
    SELECT case_id, 'partial_seating_remade', arch || ': tray not fully seated, denture remade', 3
    FROM linked_dentures WHERE h_partial_seating_used AND end_reason = 'remade'
    UNION ALL
    SELECT case_id, 'unsound_copied_remade', arch || ': vertical copied from an unsound denture, denture remade', 3
    FROM linked_dentures WHERE h_vertical_from_unsound AND end_reason = 'remade'
), weighed AS (
    SELECT case_id, sum(weight) AS weight FROM (SELECT DISTINCT case_id, rule, weight FROM found) GROUP BY case_id
), picked AS (
    SELECT w.case_id, c.site, c.clinician
    FROM weighed w JOIN cases c USING (case_id)
    QUALIFY row_number() OVER (PARTITION BY CASE WHEN CAST($3 AS BOOLEAN) THEN c.clinician END ORDER BY w.weight DESC, w.case_id) <= CAST($2 AS BIGINT)
)
SELECT case_id, any_value(site) AS site, any_value(clinician) AS clinician, rule, string_agg(DISTINCT fact, '; ' ORDER BY fact) AS fact, max(weight) AS weight
FROM found JOIN picked USING (case_id)
GROUP BY case_id, rule
ORDER BY case_id, rule
