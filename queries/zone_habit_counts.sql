-- Question:   how many sore spots has each place with a habit and without it, and how do they lie within patients?
-- Unit:       one row per habit, arch, zone and side with a spot on either side
-- Parameters: none; the habits come from the list; reads cohort_habits' cohort, and zone_spots
-- Columns:    dim (number of the habit), arch, zone, side, spots with, spots without, and over patients the sums of products: spots with by itself,
--             spots without by itself, spots with by spots without, spots with by dentures with, spots with by dentures without,
--             spots without by dentures with, spots without by dentures without
-- Order:      dim, arch, zone, side
WITH patients AS (
{{- range $i, $d := .Dimensions}}{{if $i}}
    UNION ALL{{end}}
    SELECT {{.No}} AS dim, patient_no, c{{.No}} % 2 AS lower, count(*) FILTER (c{{.No}} > 2) AS w, count(*) FILTER (c{{.No}} <= 2) AS o
    FROM cohort WHERE c{{.No}} > 0 GROUP BY patient_no, lower
{{- end}}
), sore AS (
{{- range $i, $d := .Dimensions}}{{if $i}}
    UNION ALL{{end}}
    SELECT {{.No}} AS dim, patient_no, c{{.No}} % 2 AS lower, z.place, coalesce(sum(z.spots) FILTER (c{{.No}} > 2), 0) AS bw, coalesce(sum(z.spots) FILTER (c{{.No}} <= 2), 0) AS bo
    FROM cohort JOIN zone_spots z USING (denture_no)
    WHERE c{{.No}} > 0
    GROUP BY patient_no, lower, z.place
{{- end}}
), summed AS (
    SELECT dim, lower, place, CAST(sum(bw) AS BIGINT) AS bw, CAST(sum(bo) AS BIGINT) AS bo,
           CAST(sum(bw * bw) AS BIGINT) AS bwbw, CAST(sum(bo * bo) AS BIGINT) AS bobo, CAST(sum(bw * bo) AS BIGINT) AS bwbo,
           CAST(sum(bw * w) AS BIGINT) AS bww, CAST(sum(bw * o) AS BIGINT) AS bwo, CAST(sum(bo * w) AS BIGINT) AS bow, CAST(sum(bo * o) AS BIGINT) AS boo
    FROM sore
    JOIN patients USING (dim, patient_no, lower)
    GROUP BY dim, lower, place
)
SELECT dim, CASE lower WHEN 1 THEN 'lower' ELSE 'upper' END AS arch, p.zone, p.side, bw, bo, bwbw, bobo, bwbo, bww, bwo, bow, boo
FROM summed
JOIN zone_places p USING (place)
ORDER BY dim, arch, p.zone, p.side
