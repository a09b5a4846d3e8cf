-- Question:   how do dentures and events spread over case mix, clinician, arch and each habit?
-- Unit:       one row per comparison and combination of case mix, clinician, arch and the comparison's habit
-- Parameters: none; each family brings its habit's column, its set of columns of case mix and its comparisons; reads pair_dentures
-- Columns:    task, mix (the number of the combination of levels and arch), place (clinician and arch), exposed, n; sums of y, share,
--             y squared, y share, share squared
-- Order:      none; readers group
-- Comparisons that differ in the outcome alone are a family: they are grouped once. Families are grouped one by one, since
-- fewer groups stay at hand; those of which the groups would be nearly as many as the dentures are left out, and read from the
-- dentures. A share is at most 1, that is 10^9 billionths, so that its square still is a whole 64-bit number.
CREATE OR REPLACE TEMP TABLE pair_groups AS
WITH none AS (
    SELECT 0 AS task, CAST(0 AS BIGINT) AS mix, 0 AS place, false AS exposed, CAST(0 AS BIGINT) AS n, CAST(0 AS HUGEINT) AS y, CAST(0 AS HUGEINT) AS share_e9, CAST(0 AS HUGEINT) AS yy, CAST(0 AS HUGEINT) AS y_share_e9, CAST(0 AS HUGEINT) AS share_share_e18
)
{{- range $i, $f := .Families}}{{if not .Large}}, g{{$i}} AS MATERIALIZED (
    SELECT {{.Set}} AS mix, place, {{.Exposure}} AS exposed
    {{- range .Of}},
           count(s_{{.Outcome}}) AS n{{.No}}, sum(y_{{.Outcome}}) AS y{{.No}}, sum(s_{{.Outcome}}) AS s{{.No}}, sum(y_{{.Outcome}} * y_{{.Outcome}}) AS yy{{.No}}, sum(CAST(y_{{.Outcome}} AS BIGINT) * s_{{.Outcome}}) AS ys{{.No}},
           sum(CAST(s_{{.Outcome}} AS BIGINT) * s_{{.Outcome}}) AS ss{{.No}}
    {{- end}}
    FROM pair_dentures
    WHERE {{.Exposure}} IS NOT NULL
    GROUP BY mix, place, exposed
){{end}}{{end}}
SELECT * FROM none WHERE n > 0
{{- range $i, $f := .Families}}{{if not .Large}}{{range .Of}}
UNION ALL SELECT {{.No}}, mix, place, exposed, n{{.No}}, y{{.No}}, s{{.No}}, yy{{.No}}, ys{{.No}}, ss{{.No}} FROM g{{$i}} WHERE n{{.No}} > 0
{{- end}}{{end}}{{end}}
