-- Question:   how did pairs of dentures of one patient leave of which one or both had a yes/no outcome, within one group?
-- Unit:       one row per dimension, outcome, code and pair of ways to leave, with the outcome and without
-- Parameters: none; the dimensions come from the list; reads cohort_hits
-- Columns:    dim, outcome (number), code (number), is_a, is_b, was_a, was_b (as in cohort_hits), n (pairs)
-- Order:      all but the last
{{range $i, $d := .Dimensions}}{{if $i}}UNION ALL
{{end}}SELECT {{.No}} AS dim, outcome, c{{.No}} AS code, is_a, is_b, was_a, was_b, count(*) AS n FROM cohort_hits WHERE c{{.No}} > 0 GROUP BY ALL
{{end}}ORDER BY ALL
