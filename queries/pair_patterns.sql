-- Question:   how do dentures and events spread over case mix, arch and the habit?
-- Unit:       one row per comparison and combination of case mix, arch and the comparison's habit, and one for the dentures of which
--             the habit cannot be assessed
-- Parameters: none; each family brings its habit's column, its set of columns of case mix and its comparisons; reads pair_groups and, for
--             what is left out there, pair_dentures
-- Columns:    task, mix (the number of the combination of levels and arch, -1 where exposed is NULL), exposed, n; sums of share and y; the
--             share of those with an event where exposed is NULL, and elsewhere the sums of y squared, y share and share squared
-- Order:      task, mix, exposed
WITH small AS (
    SELECT task, mix, exposed, CAST(sum(n) AS BIGINT) AS n, CAST(sum(share_e9) AS BIGINT) AS share_e9, CAST(sum(y) AS BIGINT) AS y, CAST(0 AS BIGINT) AS share_hit_e9,
           CAST(sum(yy) AS DOUBLE) AS yy, CAST(sum(y_share_e9) AS DOUBLE) AS y_share_e9, CAST(sum(share_share_e18) AS DOUBLE) AS share_share_e18
    FROM pair_groups
    GROUP BY task, mix, exposed
)
{{- range $i, $f := .Families}}, u{{$i}} AS MATERIALIZED (
    SELECT count(*) AS dentures{{range .Of}}, count(s_{{.Outcome}}) AS n{{.No}}, sum(y_{{.Outcome}}) AS y{{.No}}, sum(s_{{.Outcome}}) AS s{{.No}}, sum(s_{{.Outcome}}) FILTER (y_{{.Outcome}} > 0) AS hit{{.No}}{{end}}
    FROM pair_dentures
    WHERE {{.Exposure}} IS NULL
){{if .Large}}, g{{$i}} AS MATERIALIZED (
    SELECT {{.Set}} AS mix, {{.Exposure}} AS exposed{{range .Of}}, count(s_{{.Outcome}}) AS n{{.No}}, sum(y_{{.Outcome}}) AS y{{.No}}, sum(s_{{.Outcome}}) AS s{{.No}}, sum(y_{{.Outcome}} * y_{{.Outcome}}) AS yy{{.No}}, sum(CAST(y_{{.Outcome}} AS BIGINT) * s_{{.Outcome}}) AS ys{{.No}}, sum(CAST(s_{{.Outcome}} AS BIGINT) * s_{{.Outcome}}) AS ss{{.No}}{{end}}
    FROM pair_dentures
    WHERE {{.Exposure}} IS NOT NULL
    GROUP BY mix, exposed
){{end}}{{end}}
SELECT * FROM small
{{- range $i, $f := .Families}}{{range .Of}}
UNION ALL SELECT {{.No}}, -1, NULL, n{{.No}}, CAST(s{{.No}} AS BIGINT), CAST(y{{.No}} AS BIGINT), CAST(coalesce(hit{{.No}}, 0) AS BIGINT), 0, 0, 0 FROM u{{$i}} WHERE n{{.No}} > 0
{{- if $f.Large}}
UNION ALL SELECT {{.No}}, mix, exposed, n{{.No}}, CAST(s{{.No}} AS BIGINT), CAST(y{{.No}} AS BIGINT), 0, CAST(yy{{.No}} AS DOUBLE), CAST(ys{{.No}} AS DOUBLE), CAST(ss{{.No}} AS DOUBLE) FROM g{{$i}} WHERE n{{.No}} > 0
{{- end}}{{end}}{{end}}
ORDER BY task, mix, exposed
