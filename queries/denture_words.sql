-- Question:   what does each delivered denture bring to the comparisons?
-- Unit:       one row per delivered denture with one of these numbers
-- Parameters: filled with the fields, in lists, the columns that come as they are, the places of codes, and the first and last number of a
--             denture
-- Columns:    denture, the number of the patient times 2^31 plus that of the denture; then whole numbers (word_0, word_1, ...), each the
--             sum of several fields times their place values; then codes and habits, which the linked tables have packed likewise
-- Order:      none; the reader sorts
-- Some tens of small fields reach the reader as a handful of whole numbers: what passing them on costs is the number of
-- values. What is not recorded is 0 in a code, 2 in a habit, and the greatest number in a measurement.
WITH d AS (
    SELECT denture_no, patient_no, site_no, clinician_no, lab_no, records_no, ridge_class, end_day - delivered_day AS risk_days,
           freeway_mm, vdr_mm, vdo_mm, lip_mm, display_target_mm - display_suggested_mm AS display_off_mm, clearance_max_mm, m.codes AS codes_made
    {{- range .Packed}},
           c.{{.}} + m.{{.}} AS {{.}}
    {{- end}}
    FROM linked_made m
    JOIN linked_cases c ON c.case_no = m.denture_no - m.denture_no % 2
    WHERE m.denture_no BETWEEN {{.First}} AND {{.Last}} AND c.case_no BETWEEN {{.First}} AND {{.Last}}
)
SELECT CAST(patient_no AS BIGINT) * 2147483648 + denture_no AS denture
{{- range $w, $fields := .Words}},
       {{range $i, $f := $fields}}{{if $i}} + {{end}}
         {{- if eq .Kind "text"}}CAST(coalesce({{.Column}}, 0) AS BIGINT)
         {{- else if eq .Kind "value"}}CAST(coalesce(CAST({{.Name}} * 100 AS INTEGER) + {{.Zero}}, {{.Most}}) AS BIGINT)
         {{- else if eq .Kind "left"}}CAST(2 * least(risk_days, {{.Last}}) + CAST({{$.Place.end_reason.In "codes_made"}} = {{$.Place.end_reason.Codes.No "died"}} AS INTEGER) AS BIGINT)
         {{- else if eq .Kind "filled"}}(CAST(vdr_mm IS NOT NULL AS BIGINT) + CAST(vdo_mm IS NOT NULL AS BIGINT) + CAST(lip_mm IS NOT NULL AS BIGINT) + CAST(clearance_max_mm IS NOT NULL AS BIGINT)
             + CAST({{$.Place.band_seating.In "codes_made"}} <> {{$.Place.band_seating.Codes.No "not_recorded"}} AS BIGINT))
         {{- else if eq .Kind "five"}}CAST(coalesce(CAST(vdo_mm % 5 = 0 AS TINYINT), 2) AS BIGINT)
         {{- else}}CAST(coalesce({{.Name}}, 0) AS BIGINT){{end}} * {{.Times}}
       {{- end}} AS word_{{$w}}
{{- end}}
{{- range .Packed}},
       {{.}}
{{- end}}
FROM d
