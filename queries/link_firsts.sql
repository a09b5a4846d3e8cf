-- Question:   when did each yes/no outcome first happen to a denture?
-- Unit:       one row per denture and outcome that happened during follow-up (whatever the window)
-- Parameters: none
-- Columns:    outcome, case_id, arch, denture_no, day (days from the denture's own delivery, delivery day = 0)
-- Order:      none; readers state their own
CREATE OR REPLACE TABLE linked_firsts AS
WITH seen AS (
    SELECT d.case_id, d.arch, d.denture_no, v.visit_id, v.day - d.delivered_day AS day, v.adjusted, v.reason, string_split(v.complaints, '|') AS complaints
    FROM linked_dentures d
    JOIN visits v ON v.case_id = d.case_id AND (v.arch = d.arch OR v.arch = 'both') AND v.day BETWEEN d.delivered_day AND d.end_day
), happened AS (
    SELECT 'first_adjustment' AS outcome, case_id, arch, denture_no, day FROM seen WHERE adjusted = 'yes'
    UNION ALL
    SELECT 'planned_visit', case_id, arch, denture_no, day FROM seen WHERE reason = 'planned'
    UNION ALL
    SELECT 'any_ulcer', s.case_id, s.arch, s.denture_no, s.day FROM seen s JOIN sore_spots p ON p.visit_id = s.visit_id AND p.arch = s.arch WHERE p.grade = 3
    UNION ALL
    SELECT 'display_complaint', case_id, arch, denture_no, day FROM seen WHERE list_has_any(complaints, ['shows_too_much', 'shows_too_little'])
    UNION ALL
    SELECT 'vertical_complaint', case_id, arch, denture_no, day FROM seen WHERE list_has_any(complaints, ['too_tall', 'too_short'])
    UNION ALL
    SELECT 'remake', case_id, arch, denture_no, risk_days FROM linked_dentures WHERE end_reason = 'remade'
    UNION ALL
    SELECT 'reline', d.case_id, d.arch, d.denture_no, r.day - d.delivered_day
    FROM linked_dentures d
    JOIN remakes r ON r.case_id = d.case_id AND r.arch = d.arch AND r.scope IN ('reline', 'rebase') AND r.day BETWEEN d.delivered_day AND d.end_day
)
SELECT outcome, case_id, arch, denture_no, min(day) AS day FROM happened GROUP BY outcome, case_id, arch, denture_no
