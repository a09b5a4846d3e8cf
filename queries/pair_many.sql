-- Question:   how many patients with three dentures or more are compared?
-- Unit:       one row per comparison that compares any
-- Parameters: $1 the cells compared: comparison and cell, joined by a comma, cells by semicolons; each family brings its habit's
--             column, its set of columns of case mix and its comparisons; reads pair_dentures and pair_scores
-- Columns:    task, dentures, patients
-- Order:      task
WITH compared AS (
    SELECT CAST(f[1] AS INTEGER) AS task, CAST(f[2] AS BIGINT) AS cell FROM (SELECT string_split(unnest(string_split($1, ';')), ',') AS f)
), many AS (
{{- range $i, $f := .Families}}{{range $j, $t := .Of}}
    {{if or $i $j}}UNION ALL {{end}}SELECT {{.No}} AS task, patient_no, place, CAST({{$f.Set}} AS BIGINT) AS mix FROM pair_dentures WHERE dentures > 2 AND {{$f.Exposure}} IS NOT NULL AND s_{{.Outcome}} IS NOT NULL
{{- end}}{{end}}
), placed AS MATERIALIZED ( -- or the cells compared would be joined by their comparison alone, which multiplies them
    SELECT m.task, m.patient_no, m.place * s.bands + s.band AS cell
    FROM many m
    JOIN pair_scores s ON s.key = m.mix * {{.Tasks}} + m.task
)
SELECT p.task, count(*) AS dentures, count(DISTINCT p.patient_no) AS patients
FROM placed p
JOIN compared c ON c.task = p.task AND c.cell = p.cell
GROUP BY p.task
ORDER BY p.task
