-- Question:   how long was each denture at risk of each outcome, and how often did it happen?
-- Unit:       one row per delivered denture
-- Parameters: none; the outcomes come from the list: name, last day of the window, whether it counts once
-- Columns:    denture_no, patient_no, and for each outcome y_ and its name (events in the window) and day_ and its name (last day at
--             risk, from delivery)
-- Order:      none; readers state their own
-- An outcome that counts once ends the time at risk; one that recurs does not.
CREATE OR REPLACE TEMP TABLE outcome_ends AS
WITH often AS (
    SELECT denture_no{{range .}}{{if not .Once}}, sum(n) FILTER (outcome = '{{.Name}}' AND day <= {{.Days}}) AS {{.Name}}{{end}}{{end}}
    FROM linked_events
    GROUP BY denture_no
), once AS (
    SELECT denture_no{{range .}}{{if .Once}}, min(day) FILTER (outcome = '{{.Name}}' AND day <= {{.Days}}) AS {{.Name}}{{end}}{{end}}
    FROM linked_firsts
    WHERE false{{range .}}{{if .Once}} OR outcome = '{{.Name}}'{{end}}{{end}}
    GROUP BY denture_no
)
SELECT d.denture_no, d.patient_no
{{- range .}},
       {{if .Once}}CAST(o.{{.Name}} IS NOT NULL AS INTEGER) AS y_{{.Name}}, CAST(coalesce(o.{{.Name}}, least(d.risk_days, {{.Days}})) AS INTEGER) AS day_{{.Name}}
       {{- else}}CAST(coalesce(e.{{.Name}}, 0) AS INTEGER) AS y_{{.Name}}, CAST(least(d.risk_days, {{.Days}}) AS INTEGER) AS day_{{.Name}}{{end}}
{{- end}}
FROM linked_dentures d
LEFT JOIN often e ON e.denture_no = d.denture_no
LEFT JOIN once o ON o.denture_no = d.denture_no
