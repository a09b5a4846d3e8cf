-- Question:   what does each denture bring to every comparison of habits?
-- Unit:       one row per delivered denture
-- Parameters: $1 and on: the recorded levels of each column of case mix in their order, joined by the character 31; reads
--             pair_clinicians
-- Columns:    denture_no, patient_no, dentures (how many the patient has), clinician_no, upper, every habit, and
--             for each column of case mix m_ and its name: the number of its level, from 0, what is not recorded last
-- Order:      none; readers join and group
CREATE OR REPLACE TEMP TABLE pair_coded AS
SELECT d.denture_no, d.patient_no, p.dentures,
       c.clinician_no, d.arch = 'upper' AS upper,
{{- range .}}
       CAST(coalesce(list_position(string_split(${{.No}}, chr(31)), CAST(d.{{.Column}} AS VARCHAR)), {{.Last}} + 1) - 1 AS INTEGER) AS {{.Code}},
{{- end}}
       COLUMNS('^h_')
FROM linked_dentures d
JOIN pair_clinicians c ON c.clinician = d.clinician
JOIN (SELECT patient_no, CAST(count(*) AS INTEGER) AS dentures FROM linked_dentures GROUP BY patient_no) p ON p.patient_no = d.patient_no
