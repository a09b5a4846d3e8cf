-- Question:   about how many combinations of case mix, clinician and arch are there?
-- Unit:       one row per set of columns of case mix
-- Parameters: none; the sets come from the list; reads pair_dentures
-- Columns:    no (the set's place in the list, from 0), groups (within a few per cent), dentures
-- Order:      no
SELECT unnest([{{range $i, $s := .Sets}}{{if $i}}, {{end}}{{$i}}{{end}}]) AS no,
       unnest([{{range $i, $s := .Sets}}{{if $i}}, {{end}}approx_count_distinct(CAST({{.Name}} AS BIGINT) * {{$.Places}} + place){{end}}]) AS groups, count(*) AS dentures
FROM pair_dentures
ORDER BY no
