-- Question:   how many patients with three dentures or more are compared?
-- Unit:       one row per comparison that compares any
-- Parameters: $1 the cells compared: comparison and cell, joined by a comma, cells by semicolons; each comparison brings its number, its
--             habit's column and how its case mix is numbered; reads pair_rows and pair_scores
-- Columns:    task, dentures, patients
-- Order:      task
WITH compared AS (
    SELECT CAST(f[1] AS INTEGER) AS task, CAST(f[2] AS BIGINT) AS cell FROM (SELECT string_split(unnest(string_split($1, ';')), ',') AS f)
), many AS (
    SELECT patient_no, place,
           unnest([{{range $i, $t := .Of}}{{if $i}}, {{end}}{{.No}}{{end}}]) AS task,
           unnest([{{range $i, $t := .Of}}{{if $i}},
                   {{end}}CASE WHEN {{.Exposure}} IS NOT NULL THEN (place{{range .Mix}} + CAST({{.Weight}} AS BIGINT) * {{.Code}}{{end}}) // (2 * {{$.Clinicians}}) END{{end}}]) AS mix
    FROM (SELECT *, CAST(clinician_no * 2 + CAST(upper AS INTEGER) AS BIGINT) AS place FROM pair_rows WHERE dentures > 2)
), placed AS MATERIALIZED ( -- or the cells compared would be joined by their comparison alone, which multiplies them
    SELECT m.task, m.patient_no, m.place * s.bands + s.band AS cell
    FROM many m
    JOIN pair_scores s ON s.task = m.task AND s.mix = m.mix
)
SELECT p.task, count(*) AS dentures, count(DISTINCT p.patient_no) AS patients
FROM placed p
JOIN compared c ON c.task = p.task AND c.cell = p.cell
GROUP BY p.task
ORDER BY p.task
