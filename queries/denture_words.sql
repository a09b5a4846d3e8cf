-- Question:   what does each delivered denture bring to the comparisons?
-- Unit:       one row per delivered denture with one of these numbers
-- Parameters: filled with the fields, in lists, and with the first and last number of a denture
-- Columns:    the number of the patient times 2^31 plus that of the denture; then whole numbers, each the sum of several fields times
--             their place values; then habits, which the linked table has packed likewise
-- Order:      none; the reader sorts
-- Some tens of small fields reach the reader as a handful of whole numbers: what passing them on costs is the number of
-- values. What is not recorded is 0 in a code, 2 in a habit, and the greatest number in a measurement.
SELECT CAST(d.patient_no AS BIGINT) * 2147483648 + d.denture_no
{{- range .Words}},
       {{range $i, $f := .}}{{if $i}} + {{end}}
         {{- if eq .Kind "text"}}CAST(coalesce(d.{{.Column}}, 0) AS BIGINT)
         {{- else if eq .Kind "code"}}CAST(coalesce(enum_code(d.{{.Name}}) + 1, 0) AS BIGINT)
         {{- else if eq .Kind "value"}}CAST(coalesce(CAST(d.{{.Name}} * 100 AS INTEGER) + {{.Zero}}, {{.Most}}) AS BIGINT)
         {{- else if eq .Kind "left"}}CAST(2 * least(d.risk_days, {{.Last}}) + CAST(d.end_reason = 'died' AS INTEGER) AS BIGINT)
         {{- else if eq .Kind "filled"}}(CAST(d.vdr_mm IS NOT NULL AS BIGINT) + CAST(d.vdo_mm IS NOT NULL AS BIGINT) + CAST(d.lip_mm IS NOT NULL AS BIGINT) + CAST(d.clearance_max_mm IS NOT NULL AS BIGINT) + CAST(d.band_seating <> 'not_recorded' AS BIGINT))
         {{- else if eq .Kind "five"}}CAST(coalesce(CAST(d.vdo_mm % 5 = 0 AS TINYINT), 2) AS BIGINT)
         {{- else}}CAST(coalesce(d.{{.Name}}, 0) AS BIGINT){{end}} * {{.Times}}
       {{- end}}
{{- end}}
{{- range .Packed}},
       d.{{.}}
{{- end}}
FROM linked_coded d
WHERE d.denture_no BETWEEN {{.First}} AND {{.Last}}
