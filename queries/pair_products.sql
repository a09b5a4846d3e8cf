-- Question:   how do events and shares of two dentures of one patient go together?
-- Unit:       one row per comparison and combination of case mix, clinician, arch and habit of two dentures of one patient, a before b
-- Parameters: none; each family brings its habit's column, its set of columns of case mix and its comparisons; reads pair_mates
-- Columns:    task, mix_a, place_a, exposed_a, mix_b, place_b, exposed_b (as in pair_groups), twos (pairs of patients with two dentures);
--             the sums over pairs of the products of a and b: y y, y share, share y, share share
-- Order:      none; readers group
CREATE OR REPLACE TEMP TABLE pair_products AS
WITH
{{- range $i, $f := .Families}}
{{if $i}}, {{end}}g{{$i}} AS MATERIALIZED (
    SELECT {{.Set}}_a AS key_a, {{.Set}}_b AS key_b, {{.Exposure}} AS sides
    {{- range .Of}},
           count(s_{{.Outcome}}_a * s_{{.Outcome}}_b) AS n{{.No}}, count(s_{{.Outcome}}_a * s_{{.Outcome}}_b) FILTER (twos) AS twos{{.No}}, sum(y_{{.Outcome}}_a * y_{{.Outcome}}_b) AS yy{{.No}}, sum(y_{{.Outcome}}_a * s_{{.Outcome}}_b) AS ys{{.No}},
           sum(s_{{.Outcome}}_a * y_{{.Outcome}}_b) AS sy{{.No}}, sum(s_{{.Outcome}}_a * s_{{.Outcome}}_b) AS ss{{.No}}
    {{- end}}
    FROM pair_mates
    WHERE {{.Exposure}} IS NOT NULL
    GROUP BY key_a, key_b, sides
)
{{- end}}
SELECT task, key_a // {{.Places}} AS mix_a, CAST(key_a % {{.Places}} AS INTEGER) AS place_a, sides >= 2 AS exposed_a,
       key_b // {{.Places}} AS mix_b, CAST(key_b % {{.Places}} AS INTEGER) AS place_b, sides % 2 = 1 AS exposed_b, twos, yy, ys_e9, sy_e9, ss_e18
FROM (
{{- range $i, $f := .Families}}{{range $j, $t := .Of}}
    {{if or $i $j}}UNION ALL {{end}}SELECT {{.No}} AS task, CAST(key_a AS BIGINT) AS key_a, CAST(key_b AS BIGINT) AS key_b, sides, n{{.No}} AS n, twos{{.No}} AS twos, yy{{.No}} AS yy, ys{{.No}} AS ys_e9, sy{{.No}} AS sy_e9, ss{{.No}} AS ss_e18 FROM g{{$i}}
{{- end}}{{end}}
)
WHERE n > 0
