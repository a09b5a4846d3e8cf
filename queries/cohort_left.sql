-- Question:   how did the dentures of each group leave?
-- Unit:       one row per dimension, code and way of leaving
-- Parameters: none; the dimensions come from the list; reads cohort
-- Columns:    dim, code (number), left_as (as in cohort), n (dentures)
-- Order:      dim, code, left_as
{{range $i, $d := .Dimensions}}{{if $i}}UNION ALL
{{end}}SELECT {{.No}} AS dim, c{{.No}} AS code, left_as, count(*) AS n FROM cohort WHERE c{{.No}} > 0 GROUP BY ALL
{{end}}ORDER BY dim, code, left_as
