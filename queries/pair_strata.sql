{{- define "sums"}}place * bands + band AS cell, exposed, CAST(sum(n) AS BIGINT) AS n, CAST(sum(y) AS BIGINT) AS y, CAST(sum(share_e9) AS BIGINT) AS share_e9,
       CAST(sum(CAST(share_e9 * rate AS BIGINT)) AS BIGINT) AS size_e9, CAST(sum(CAST(share_e9 * rate * lean AS BIGINT)) AS DOUBLE) AS lean_e9,
       CAST(sum(CAST(share_e9 * rate * lean * lean AS BIGINT)) AS DOUBLE) AS lean2_e9, CAST(sum(yy) AS DOUBLE) AS yy, CAST(sum(y_share_e9) AS DOUBLE) / 1e9 AS y_share,
       CAST(sum(share_share_e18) AS DOUBLE) / 1e18 AS share_share, CAST(sum(CAST(y_share_e9 * rate AS BIGINT)) AS DOUBLE) / 1e9 AS y_size,
       CAST(sum(CAST(share_share_e18 / 1e9 * rate AS BIGINT)) AS DOUBLE) / 1e9 AS share_size,
       CAST(sum(CAST(share_share_e18 / 1e9 * rate * rate AS BIGINT)) AS DOUBLE) / 1e9 AS size_size
{{- end -}}
-- Question:   how many dentures and events are there on either side in each stratum, and how much do they vary?
-- Unit:       one row per comparison, cell and side
-- Parameters: none; each family brings its habit's column, its set of columns of case mix and its comparisons; reads pair_groups, pair_scores
--             and, for what is left out in the first, pair_dentures
-- Columns:    task, cell (number of clinician, arch and band), exposed, n, y, share; sums of size (share times expected trouble), size
--             times lean and its square; of y squared, y share, share squared, y size, share size and size squared
-- Order:      task, cell, exposed
-- What is no whole number is rounded to billionths by group, so that sums are the same in any order.
SELECT * FROM (
SELECT task, {{template "sums"}}
FROM (
    SELECT g.*, s.rate, s.lean, s.band, s.bands
    FROM pair_groups g
    JOIN pair_scores s ON s.key = g.mix * {{.Tasks}} + g.task
)
GROUP BY task, place * bands + band, exposed
{{- range $i, $f := .Families}}{{if .Large}}{{range .Of}}
UNION ALL
SELECT {{.No}} AS task, {{template "sums"}}
FROM (
    SELECT d.place, d.{{$f.Exposure}} AS exposed, 1 AS n, d.y_{{.Outcome}} AS y, d.s_{{.Outcome}} AS share_e9, d.y_{{.Outcome}} * d.y_{{.Outcome}} AS yy, CAST(d.y_{{.Outcome}} AS BIGINT) * d.s_{{.Outcome}} AS y_share_e9,
           CAST(d.s_{{.Outcome}} AS BIGINT) * d.s_{{.Outcome}} AS share_share_e18, s.rate, s.lean, s.band, s.bands
    FROM pair_dentures d
    JOIN (SELECT * FROM pair_scores WHERE task = {{.No}}) s ON s.mix = d.{{$f.Set}}
    WHERE d.{{$f.Exposure}} IS NOT NULL AND d.s_{{.Outcome}} IS NOT NULL
)
GROUP BY place * bands + band, exposed
{{- end}}{{end}}{{end}}
)
ORDER BY task, cell, exposed
