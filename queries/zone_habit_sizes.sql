-- Question:   how many dentures have each habit and lack it, by arch, and how do they lie within patients?
-- Unit:       one row per habit and arch
-- Parameters: none; the habits come from the list; reads cohort_habits' cohort
-- Columns:    dim (number of the habit), arch, dentures with, dentures without, patients, and over patients the sums of squared
--             dentures with, of squared dentures without, and of their products
-- Order:      dim, arch
WITH patients AS (
{{- range $i, $d := .Dimensions}}{{if $i}}
    UNION ALL{{end}}
    SELECT {{.No}} AS dim, c{{.No}} % 2 AS lower, count(*) FILTER (c{{.No}} > 2) AS w, count(*) FILTER (c{{.No}} <= 2) AS o
    FROM cohort WHERE c{{.No}} > 0 GROUP BY patient_no, lower
{{- end}}
)
SELECT dim, CASE lower WHEN 1 THEN 'lower' ELSE 'upper' END AS arch,
       CAST(sum(w) AS BIGINT), CAST(sum(o) AS BIGINT), count(*), CAST(sum(w * w) AS BIGINT), CAST(sum(o * o) AS BIGINT), CAST(sum(w * o) AS BIGINT)
FROM patients
GROUP BY dim, lower
ORDER BY dim, arch
