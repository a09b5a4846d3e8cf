-- Question:   how do events and shares of two dentures of one patient go together?
-- Unit:       one row per comparison and combination of case mix, clinician, arch and habit of two dentures of one patient, a before b
-- Parameters: none; each family brings its habit's column, its set of columns of case mix and its comparisons; reads pair_mates
-- Columns:    task, mix_a, mix_b, place_a, place_b (as in pair_groups), sides (2 with the habit in a, plus 1 with it in b), twos (pairs of
--             patients with two dentures); the sums over pairs of the products of a and b: y y, y share, share y, share share
-- Order:      none; readers group
CREATE OR REPLACE TEMP TABLE pair_products AS
WITH
{{- range $i, $f := .Families}}
{{if $i}}, {{end}}g{{$i}} AS MATERIALIZED (
    SELECT {{.Set}}_a AS mix_a, {{.Set}}_b AS mix_b, place_a, place_b, {{.Exposure}} AS sides
    {{- range .Of}},
           count(s_{{.Outcome}}_a + s_{{.Outcome}}_b) AS n{{.No}}, count(CASE WHEN twos THEN s_{{.Outcome}}_a + s_{{.Outcome}}_b END) AS twos{{.No}}, sum(y_{{.Outcome}}_a * y_{{.Outcome}}_b) AS yy{{.No}},
           sum(CAST(y_{{.Outcome}}_a AS BIGINT) * s_{{.Outcome}}_b) AS ys{{.No}}, sum(CAST(s_{{.Outcome}}_a AS BIGINT) * y_{{.Outcome}}_b) AS sy{{.No}}, sum(CAST(s_{{.Outcome}}_a AS BIGINT) * s_{{.Outcome}}_b) AS ss{{.No}}
    {{- end}}
    FROM pair_mates
    WHERE {{.Exposure}} IS NOT NULL
    GROUP BY mix_a, mix_b, place_a, place_b, sides
)
{{- end}}
{{range $i, $f := .Families}}{{range $j, $t := .Of}}
{{- if or $i $j}}UNION ALL {{end}}SELECT {{.No}} AS task, mix_a, mix_b, place_a, place_b, sides, twos{{.No}} AS twos, yy{{.No}} AS yy, ys{{.No}} AS ys_e9, sy{{.No}} AS sy_e9, ss{{.No}} AS ss_e18 FROM g{{$i}} WHERE n{{.No}} > 0
{{end}}{{end}}
