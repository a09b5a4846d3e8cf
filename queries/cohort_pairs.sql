-- Question:   which dentures belong to one patient, and in which groups do they stand together?
-- Unit:       one row per pair of dentures of one patient
-- Parameters: none; the dimensions come from the list; reads cohort
-- Columns:    denture_a (the lower number), denture_b, left_a, left_b (as in cohort), and for each dimension the number of the code that
--             both have, 0 if they differ
-- Order:      none; readers state their own
CREATE OR REPLACE TEMP TABLE cohort_pairs AS
SELECT a.denture_no AS denture_a, b.denture_no AS denture_b, a.left_as AS left_a, b.left_as AS left_b
{{- range .Dimensions}}, CASE WHEN a.c{{.No}} = b.c{{.No}} THEN a.c{{.No}} ELSE 0 END AS c{{.No}}{{end}}
FROM cohort a JOIN cohort b ON b.patient_no = a.patient_no AND b.denture_no > a.denture_no
