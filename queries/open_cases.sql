-- Question:   which cases are worth opening, and by which rule?
-- Unit:       one row per case and rule
-- Parameters: $1 adjustment visits within the window that count as many
-- Columns:    case_id, site, clinician, rule, fact (a short phrase), weight (1-3)
-- Order:      case_id, rule
WITH found AS (
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
)
SELECT f.case_id, c.site, c.clinician, f.rule, string_agg(DISTINCT f.fact, '; ' ORDER BY f.fact) AS fact, max(f.weight) AS weight
FROM found f JOIN cases c USING (case_id)
GROUP BY f.case_id, c.site, c.clinician, f.rule
ORDER BY f.case_id, f.rule
