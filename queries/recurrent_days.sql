-- Question:   how many events fall on each day in each group?
-- Unit:       one row per dimension, code and day with an event
-- Parameters: none; the dimensions come from the list; reads cohort_events
-- Columns:    dim, code (number), day (from delivery), visits, minutes, spots
-- Order:      dim, code, day
{{range $i, $d := .Dimensions}}{{if $i}}UNION ALL
{{end}}SELECT {{.No}} AS dim, c{{.No}} AS code, day, CAST(sum(visits) AS BIGINT) AS visits, CAST(sum(minutes) AS BIGINT) AS minutes, CAST(sum(spots) AS BIGINT) AS spots
FROM cohort_events WHERE c{{.No}} > 0 GROUP BY ALL
{{end}}ORDER BY dim, code, day
