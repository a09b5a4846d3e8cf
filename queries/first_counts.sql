-- Question:   in each group, how many dentures had a yes/no outcome on each day, and how would they have left without it?
-- Unit:       one row per dimension, outcome, code and way of leaving, with the outcome and without
-- Parameters: none; the dimensions come from the list; reads cohort_firsts
-- Columns:    dim, outcome (number), code (number), unit_is, unit_was (as in cohort_firsts), n (dentures)
-- Order:      dim, outcome, code, unit_is, unit_was
-- What is not here left as cohort_left says: most dentures have no such outcome, and are counted once for all of them.
{{range $i, $d := .Dimensions}}{{if $i}}UNION ALL
{{end}}SELECT {{.No}} AS dim, outcome, c{{.No}} AS code, unit_is, unit_was, count(*) AS n FROM cohort_firsts WHERE c{{.No}} > 0{{if not .Curves}} AND outcome < {{$.Compared}}{{end}} GROUP BY ALL
{{end}}ORDER BY ALL
