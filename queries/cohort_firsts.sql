-- Question:   which dentures had a yes/no outcome within its window, and how would they have left without it?
-- Unit:       one row per outcome and denture
-- Parameters: none; outcomes with the last day of their windows and the dimensions come from the lists; reads cohort
-- Columns:    outcome (number), denture_no, day (from delivery), unit_is and unit_was (three times the day of leaving and 0 for the
--             outcome, 1 for death, 2 for the end of observation: with the outcome, and had it not happened), and the codes' numbers as in cohort
-- Order:      none; readers state their own
-- The day after the window holds everybody who was followed beyond it, so that its last day still counts.
CREATE OR REPLACE TEMP TABLE cohort_firsts AS
SELECT o.no AS outcome, c.denture_no, f.day, 3 * f.day AS unit_is,
       CASE WHEN c.left_as // 2 > o.days THEN 3 * (o.days + 1) + 2 ELSE 3 * (c.left_as // 2) + 2 - c.left_as % 2 END AS unit_was
{{- range .Dimensions}}, c.c{{.No}}{{end}}
FROM (VALUES {{range $i, $o := .Outcomes}}{{if $i}}, {{end}}({{.No}}, '{{.Name}}', {{.Days}}){{end}}) o(no, name, days)
JOIN linked_firsts f ON f.outcome = o.name AND f.day <= o.days
JOIN cohort c USING (denture_no)
