-- Question:   which two dentures of one patient stand beside each other?
-- Unit:       one row per two dentures of one patient, a before b
-- Parameters: none; sets of columns of case mix, habits and outcomes come from the lists; reads pair_dentures
-- Columns:    twos (the patient has no others), place_a and place_b, for each set its number with _a and _b, for each habit the sides of a
--             and b (2 with the habit in a, plus 1 with it in b; NULL where either cannot be assessed), for each outcome its y_ and s_ with
--             _a and _b
-- Order:      none; readers group
CREATE OR REPLACE TEMP TABLE pair_mates AS
SELECT a.dentures = 2 AS twos, a.place AS place_a, b.place AS place_b
{{- range .Sets}}, a.{{.Name}} AS {{.Name}}_a, b.{{.Name}} AS {{.Name}}_b{{end}}
{{- range .Habits}}, CAST(CAST(a.{{.}} AS TINYINT) * 2 + CAST(b.{{.}} AS TINYINT) AS TINYINT) AS {{.}}{{end}}
{{- range .Outcomes}}, a.y_{{.}} AS y_{{.}}_a, b.y_{{.}} AS y_{{.}}_b, a.s_{{.}} AS s_{{.}}_a, b.s_{{.}} AS s_{{.}}_b{{end}}
FROM pair_dentures a
JOIN pair_dentures b ON b.patient_no = a.patient_no AND a.denture_no < b.denture_no
