-- Question:   how did pairs of dentures of one patient leave, within one group?
-- Unit:       one row per dimension, code and pair of ways to leave
-- Parameters: none; the dimensions come from the list; reads cohort_pairs
-- Columns:    dim, code (number), left_a, left_b (as in cohort), n (pairs)
-- Order:      all of the first four
{{range $i, $d := .Dimensions}}{{if $i}}UNION ALL
{{end}}SELECT {{.No}} AS dim, c{{.No}} AS code, left_a, left_b, count(*) AS n FROM cohort_pairs WHERE c{{.No}} > 0 GROUP BY ALL
{{end}}ORDER BY ALL
