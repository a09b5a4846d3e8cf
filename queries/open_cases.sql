-- Question:   which cases are most worth opening, and by which rule?
-- Unit:       one row per case and rule, of the cases listed
-- Parameters: $1 adjustment visits within the window that count as many, $2 how many cases are listed, $3 whether so many are of each
--             clinician or in all; filled with the places of codes and habits
-- Columns:    case_id, site, clinician, rule, fact (a short phrase), weight (1-3)
-- Order:      case_id, rule
-- The cases whose rules weigh most are picked by their numbers before anything is put into words or in order. A rule weighs the same in
-- every case.
{{define "habit"}}(c.{{.Word}} + d.{{.Word}}) >> {{.Shift}} & 3 = 1{{end -}}
WITH many AS (
    SELECT CAST(seen >> 32 AS INTEGER) AS denture_no, count(*) AS n
    FROM linked_visits
    WHERE seen & {{.marks.adjusted}} > 0 AND seen >> 16 & 65535 <= (SELECT adjustment_days FROM link_settings)
    GROUP BY ALL
    HAVING count(*) >= CAST($1 AS INTEGER)
), found AS MATERIALIZED ( -- n: what the rule counts
    SELECT c.case_no, 'remake_without_cause' AS rule, m.arch = 'upper' AS upper, 0 AS n, 3 AS weight
    FROM remakes m JOIN linked_cases c USING (case_id) WHERE m.scope = 'remake' AND coalesce(m.cause, 'unknown') = 'unknown'
    UNION ALL
    SELECT denture_no - denture_no % 2, 'many_visits', denture_no % 2 = 1, n, 2
    FROM many
    UNION ALL
    SELECT c.case_no, 'ulcer_twice', p.arch = 'upper', count(DISTINCT v.visit_id), 3
    FROM sore_spots p JOIN visits v USING (visit_id) JOIN linked_cases c USING (case_id) WHERE p.grade = 3 GROUP BY c.case_no, p.arch HAVING count(DISTINCT v.visit_id) >= 2
    UNION ALL
    SELECT c.case_no, 'does_not_add_up', FALSE, 0, 1 -- which follows from the case alone
    FROM linked_cases c WHERE c.{{.habit.does_not_add_up.Word}} >> {{.habit.does_not_add_up.Shift}} & 3 = 1 AND c.case_no IN (SELECT denture_no - denture_no % 2 FROM linked_made)
    UNION ALL
    SELECT c.case_no, 'partial_seating_remade', d.denture_no % 2 = 1, 0, 3
    FROM linked_made d JOIN linked_cases c ON c.case_no = d.denture_no - d.denture_no % 2
    WHERE {{.place.end_reason.In "d.codes"}} = {{.end_reason.No "remade"}} AND {{template "habit" .habit.partial_seating_used}}
    UNION ALL
    SELECT c.case_no, 'unsound_copied_remade', d.denture_no % 2 = 1, 0, 3
    FROM linked_made d JOIN linked_cases c ON c.case_no = d.denture_no - d.denture_no % 2
    WHERE {{.place.end_reason.In "d.codes"}} = {{.end_reason.No "remade"}} AND {{template "habit" .habit.vertical_from_unsound}}
), weighed AS (
    SELECT case_no, sum(weight) AS weight FROM (SELECT DISTINCT case_no, rule, weight FROM found) GROUP BY case_no
), picked AS (
    SELECT w.case_no, c.case_id, c.site_no, c.clinician_no
    FROM weighed w JOIN linked_cases c USING (case_no)
    QUALIFY row_number() OVER (PARTITION BY CASE WHEN CAST($3 AS BOOLEAN) THEN c.clinician_no END ORDER BY w.weight DESC, c.case_id) <= CAST($2 AS BIGINT)
), told AS (
    SELECT p.*, f.rule, f.weight, CASE WHEN f.rule = 'does_not_add_up' THEN 'freeway space written down differs from rest minus occlusion'
           ELSE CASE WHEN f.upper THEN 'upper' ELSE 'lower' END || CASE f.rule
           WHEN 'remake_without_cause' THEN ' remade, no cause recorded'
           WHEN 'many_visits' THEN ': ' || CAST(f.n AS VARCHAR) || ' adjustment visits'
           WHEN 'ulcer_twice' THEN ': ulcer at ' || CAST(f.n AS VARCHAR) || ' visits'
           WHEN 'partial_seating_remade' THEN ': tray not fully seated, denture remade'
           WHEN 'unsound_copied_remade' THEN ': vertical copied from an unsound denture, denture remade' END END AS fact
    FROM found f JOIN picked p USING (case_no)
)
SELECT t.case_id, any_value(s.name) AS site, any_value(w.name) AS clinician, t.rule,
       string_agg(DISTINCT t.fact, '; ' ORDER BY t.fact) AS fact, max(t.weight) AS weight
FROM told t
JOIN linked_names s ON s.field = 'site' AND s.no = t.site_no
JOIN linked_names w ON w.field = 'clinician' AND w.no = t.clinician_no
GROUP BY t.case_id, t.rule
ORDER BY t.case_id, t.rule
