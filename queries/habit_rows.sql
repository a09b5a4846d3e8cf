-- Question:   which dentures were made with each habit, and which without it?
-- Unit:       one row per denture and habit that can be assessed
-- Parameters: none; the habits' names, columns and first group numbers come from the list, in the order of the names
-- Columns:    as group_rows; dimension is the habit's id, code is with or without, a bar, and the arch
-- Order:      none; readers state their own
-- There are as many rows as dentures times habits, so that a denture's groups are numbers until the end, and names are
-- values of an enumeration, in the order of the text.
CREATE OR REPLACE TEMP TABLE group_rows AS
WITH named(grp, dimension, code) AS (
    SELECT grp, CAST(dimension AS ENUM({{range $i, $h := .}}{{if $i}}, {{end}}'{{.ID}}'{{end}})), CAST(code AS ENUM('without|lower', 'without|upper', 'with|lower', 'with|upper'))
    FROM (VALUES
{{- range $i, $h := .}}{{if $i}},{{end}}
        ({{.First}}, '{{.ID}}', 'without|lower'), ({{.First}} + 1, '{{.ID}}', 'without|upper'), ({{.First}} + 2, '{{.ID}}', 'with|lower'), ({{.First}} + 3, '{{.ID}}', 'with|upper')
{{- end}}) v(grp, dimension, code)
), long AS (
    SELECT unnest([
{{- range $i, $h := .}}{{if $i}},{{end}}
               {{.First}} + up + 2 * CAST({{.Column}} AS INTEGER)
{{- end}}]) AS grp, arch, denture_no, patient_no, risk_days, end_reason
    FROM (SELECT *, CAST(arch = 'upper' AS INTEGER) AS up FROM linked_dentures)
)
SELECT n.grp, n.dimension, n.code, l.arch, l.denture_no, l.patient_no, l.risk_days, l.end_reason
FROM long l
JOIN named n USING (grp)
