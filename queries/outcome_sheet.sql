-- Question:   how many events of each outcome did each denture have, and what share of those expected by the end of the window had fallen due?
-- Unit:       one row per delivered denture
-- Parameters: $1 shares in billionths by day from 0, in order, joined by commas, the outcomes of the list by semicolons; reads outcome_ends
-- Columns:    denture_no, patient_no, and for each outcome y_ and its name (events in the window) and s_ and its name (share, in billionths,
--             so that its sums are exact); both NULL where follow-up reached no day on which anything was expected
-- Order:      none; readers state their own
CREATE OR REPLACE TEMP TABLE outcome_sheet AS
WITH shares AS (
    SELECT no, generate_subscripts(of, 1) - 1 AS day, CAST(unnest(of) AS INTEGER) AS share
    FROM (SELECT generate_subscripts(string_split($1, ';'), 1) - 1 AS no, string_split(unnest(string_split($1, ';')), ',') AS of)
)
SELECT e.denture_no, e.patient_no
{{- range $i, $o := .}},
       CASE WHEN s{{$i}}.share > 0 THEN e.y_{{.Name}} END AS y_{{.Name}}, s{{$i}}.share AS s_{{.Name}}
{{- end}}
FROM outcome_ends e
{{- range $i, $o := .}}
LEFT JOIN (SELECT day, share FROM shares WHERE no = {{$i}} AND share > 0) s{{$i}} ON s{{$i}}.day = e.day_{{.Name}}
{{- end}}
