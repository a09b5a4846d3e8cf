-- Question:   when did each yes/no outcome first happen to a denture?
-- Unit:       one row per outcome and denture just linked to which it happened during follow-up (whatever the window)
-- Parameters: filled with the type of outcomes; reads link_seen, linked_coded, linked_sore, link_base and due_remakes
-- Columns:    outcome, denture_no, day (days from the denture's own delivery, delivery day = 0)
-- Order:      none; readers state their own
WITH came AS MATERIALIZED (
    SELECT denture_no, min(day) FILTER (adjusted) AS adjusted, min(day) FILTER (planned) AS planned,
           min(day) FILTER (of_display) AS of_display, min(day) FILTER (of_vertical) AS of_vertical
    FROM link_seen
    GROUP BY denture_no
), fresh AS (
    SELECT case_id, arch, denture_no, delivered_day, end_day, risk_days, end_reason FROM linked_coded WHERE denture_no > (SELECT denture_no FROM link_base)
)
SELECT CAST('first_adjustment' AS {{.first}}) AS outcome, denture_no, adjusted AS day FROM came WHERE adjusted IS NOT NULL
UNION ALL
SELECT CAST('planned_visit' AS {{.first}}), denture_no, planned FROM came WHERE planned IS NOT NULL
UNION ALL
SELECT CAST('display_complaint' AS {{.first}}), denture_no, of_display FROM came WHERE of_display IS NOT NULL
UNION ALL
SELECT CAST('vertical_complaint' AS {{.first}}), denture_no, of_vertical FROM came WHERE of_vertical IS NOT NULL
UNION ALL
SELECT CAST('any_ulcer' AS {{.first}}), denture_no, min(day)
FROM linked_sore WHERE ulcer AND denture_no > (SELECT denture_no FROM link_base)
GROUP BY denture_no
UNION ALL
SELECT CAST('remake' AS {{.first}}), denture_no, risk_days FROM fresh WHERE end_reason = 'remade'
UNION ALL
SELECT CAST('reline' AS {{.first}}), d.denture_no, min(r.day - d.delivered_day)
FROM fresh d
JOIN (SELECT case_id, CAST(arch AS {{.arch}}) AS arch, day FROM due_remakes WHERE scope IN ('reline', 'rebase')) r
  ON r.case_id = d.case_id AND r.arch = d.arch AND r.day BETWEEN d.delivered_day AND d.end_day
GROUP BY d.denture_no
