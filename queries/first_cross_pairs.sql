-- Question:   which dentures belong to one patient, and in which groups do they stand together?
-- Unit:       one row per pair of dentures of one patient
-- Parameters: none; the dimensions come from the list; reads cohort
-- Columns:    denture_a (the lower number), denture_b, left_a, left_b (as in cohort), and for each dimension the number of the code that
--             both have, 0 if they differ; for habits, whose sides are set beside each other, four times the number of a less one
--             plus that of b, 0 if one has none. Where pairs that stand apart are asked for, their two codes follow, 0 where they are the same
-- Order:      none; readers state their own
CREATE OR REPLACE TEMP TABLE cohort_pairs AS
SELECT a.denture_no AS denture_a, b.denture_no AS denture_b, a.left_as AS left_a, b.left_as AS left_b
{{- range .Dimensions}}, {{if $.Across}}CASE WHEN a.c{{.No}} > 0 AND b.c{{.No}} > 0 THEN 4 * (CAST(a.c{{.No}} AS INTEGER) - 1) + b.c{{.No}} ELSE 0 END AS c{{.No}}{{else}}CASE WHEN a.c{{.No}} = b.c{{.No}} THEN a.c{{.No}} ELSE 0 END AS c{{.No}}{{end}}{{end}}
{{- with .Apart}}, CASE WHEN a.c{{.Of}} <> b.c{{.Of}} THEN a.c{{.Of}} ELSE 0 END AS c{{.First}}, CASE WHEN a.c{{.Of}} <> b.c{{.Of}} THEN b.c{{.Of}} ELSE 0 END AS c{{.Second}}{{end}}
FROM cohort a JOIN cohort b ON b.patient_no = a.patient_no AND b.denture_no > a.denture_no
