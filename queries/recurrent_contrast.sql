-- Question:   what is the cluster-robust variance of the difference with minus without, standardised over arch?
-- Unit:       one row for the patients of one part
-- Parameters: for each habit of the list, by day from 0 and side from 0 (as in cohort_habits): the pull of one event and that of an end of
--             follow-up, each as a list in brackets, NULL for a side that is left out; reads cohort_habits' cohort and cohort_events
-- Columns:    for each habit patients and squares (sum of squared pulls on the difference, in units of 1e-24 times the squared number of
--             dentures with the habit)
-- Order:      none, one row
-- A pull is what cohort_squares says, weighed and summed over a habit at once: an arch weighs as many dentures as have the habit
-- there. Patients come in parts, so that the sums of all habits at once need little memory.
WITH w AS MATERIALIZED (
    SELECT {{range $i, $h := .Habits}}{{if $i}}, {{end}}CAST(${{.First}} AS {{$.Type}}[]) AS event{{.No}}, CAST(${{.Second}} AS {{$.Type}}[]) AS end{{.No}}{{end}}
), marks AS (
    SELECT patient_no{{range .Habits}}, {{$.Events}} * event{{.No}}[CAST(c{{.No}} AS INTEGER) * {{$.Days}} + day + 1] AS p{{.No}}{{end}}
    FROM cohort_events, w
    WHERE {{.Events}} > 0 AND patient_no % {{.Parts}} = {{.Part}}
    UNION ALL
    SELECT patient_no{{range .Habits}}, -end{{.No}}[CAST(c{{.No}} AS INTEGER) * {{$.Days}} + least(left_as // 2, {{$.Days}} - 1) + 1]{{end}}
    FROM cohort, w
    WHERE patient_no % {{.Parts}} = {{.Part}}
), patients AS (
    SELECT {{range $i, $h := .Habits}}{{if $i}}, {{end}}CAST(sum(p{{.No}}) AS HUGEINT) AS p{{.No}}{{end}} FROM marks GROUP BY patient_no
)
SELECT {{range $i, $h := .Habits}}{{if $i}}, {{end}}count(p{{.No}}), CAST(coalesce(sum(p{{.No}} * p{{.No}}), 0) AS HUGEINT){{end}}
FROM patients
