-- Question:   what does each denture bring to every curve?
-- Unit:       one row per delivered denture
-- Parameters: none; the columns of values and the sets of columns of case mix come from the lists; reads outcome_sheet
-- Columns:    denture_no, patient_no, stratum (number of clinician and arch), upper, e2_ and the name of each value (in hundredths of a mm),
--             for each set the key of the denture's combination (as in dose_mixes), and y_ and s_ of every outcome
-- Order:      none; readers group
CREATE OR REPLACE TEMP TABLE dose_dentures AS
WITH people AS (
    SELECT clinician, CAST(row_number() OVER (ORDER BY clinician) - 1 AS INTEGER) AS clinician_no
    FROM (SELECT DISTINCT clinician FROM linked_dentures)
)
SELECT d.denture_no, d.patient_no, p.clinician_no * 2 + CAST(d.arch = 'upper' AS INTEGER) AS stratum, d.arch = 'upper' AS upper
{{- range .Values}}, CAST(round(d.{{.}} * 100) AS INTEGER) AS e2_{{.}}{{end}}
{{- range .Sets}},
       hash({{range $i, $c := .Columns}}{{if $i}}, {{end}}d.{{.}}{{end}}) AS {{.Name}}
{{- end}},
       o.* EXCLUDE (denture_no, patient_no)
FROM linked_dentures d
JOIN people p ON p.clinician = d.clinician
JOIN outcome_sheet o ON o.denture_no = d.denture_no
