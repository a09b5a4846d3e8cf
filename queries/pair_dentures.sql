-- Question:   what does each denture bring to every comparison of habits?
-- Unit:       one row per delivered denture
-- Parameters: $1 and on: the recorded levels of each column of case mix in their order, joined by the character 31; reads
--             pair_clinicians and outcome_sheet
-- Columns:    denture_no, patient_no, dentures (how many the patient has), place (number of clinician and arch), for each set of columns
--             of case mix the number of the denture's combination of levels (what is not recorded comes last) and arch, the habits listed,
--             and y_ and s_ of every outcome
-- Order:      none; readers join and group
-- What dentures are grouped by is made here once: working it out costs more than grouping by it.
CREATE OR REPLACE TEMP TABLE pair_dentures AS
WITH coded AS (
    SELECT d.denture_no, d.patient_no, c.clinician_no, CAST(d.arch = 'upper' AS INTEGER) AS upper,
{{- range .Columns}}
           CAST(coalesce(list_position(string_split(${{.No}}, chr(31)), CAST(d.{{.Column}} AS VARCHAR)), {{.Last}} + 1) - 1 AS INTEGER) AS {{.Code}},
{{- end}}
           {{range $i, $h := .Habits}}{{if $i}}, {{end}}d.{{.}}{{end}}
    FROM linked_dentures d
    JOIN pair_clinicians c ON c.clinician = d.clinician
)
SELECT c.denture_no, c.patient_no, p.dentures, c.clinician_no * 2 + c.upper AS place,
{{- range .Sets}}{{$wide := .Wide}}
       c.upper{{range .Mix}} + {{if $wide}}CAST({{.Weight}} AS BIGINT){{else}}{{.Weight}}{{end}} * c.{{.Code}}{{end}} AS {{.Name}},
{{- end}}
       {{range .Habits}}c.{{.}}, {{end}}o.* EXCLUDE (denture_no, patient_no)
FROM coded c
JOIN (SELECT patient_no, CAST(count(*) AS INTEGER) AS dentures FROM linked_dentures GROUP BY patient_no) p ON p.patient_no = c.patient_no
JOIN outcome_sheet o ON o.denture_no = c.denture_no
