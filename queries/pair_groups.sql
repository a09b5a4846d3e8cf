-- Question:   how do dentures and events spread over case mix, clinician, arch and each habit?
-- Unit:       one row per comparison and combination of case mix, clinician, arch and the comparison's habit
-- Parameters: none; each family brings its habit's column, its set of columns of case mix and its comparisons; reads pair_dentures
-- Columns:    task, mix (the number of the combination of levels), place (clinician and arch), exposed (NULL where it cannot be
--             assessed), n; sums of y, share, y squared, y share, share squared; share of those with an event
-- Order:      none; readers group
-- Comparisons that differ in the outcome alone are a family: they are grouped once. Families are grouped one by one, since
-- fewer groups stay at hand. A share is at most 1, that is 10^9 billionths, so that its square still is a whole 64-bit number.
CREATE OR REPLACE TEMP TABLE pair_groups AS
WITH
{{- range $i, $f := .Families}}
{{if $i}}, {{end}}g{{$i}} AS MATERIALIZED (
    SELECT {{.Set}} AS key, {{.Exposure}} AS exposed
    {{- range .Of}},
           count(s_{{.Outcome}}) AS n{{.No}}, sum(y_{{.Outcome}}) AS y{{.No}}, sum(s_{{.Outcome}}) AS s{{.No}}, sum(y_{{.Outcome}} * y_{{.Outcome}}) AS yy{{.No}}, sum(CAST(y_{{.Outcome}} AS BIGINT) * s_{{.Outcome}}) AS ys{{.No}},
           sum(CAST(s_{{.Outcome}} AS BIGINT) * s_{{.Outcome}}) AS ss{{.No}}, sum(CASE WHEN y_{{.Outcome}} > 0 THEN s_{{.Outcome}} ELSE 0 END) AS hit{{.No}}
    {{- end}}
    FROM pair_dentures
    GROUP BY key, exposed
)
{{- end}}
SELECT task, key // {{.Places}} AS mix, CAST(key % {{.Places}} AS INTEGER) AS place, exposed, n, y, share_e9, yy, y_share_e9, share_share_e18, share_hit_e9
FROM (
{{- range $i, $f := .Families}}{{range $j, $t := .Of}}
    {{if or $i $j}}UNION ALL {{end}}SELECT {{.No}} AS task, CAST(key AS BIGINT) AS key, exposed, n{{.No}} AS n, y{{.No}} AS y, s{{.No}} AS share_e9, yy{{.No}} AS yy, ys{{.No}} AS y_share_e9, ss{{.No}} AS share_share_e18, hit{{.No}} AS share_hit_e9 FROM g{{$i}}
{{- end}}{{end}}
)
WHERE n > 0
