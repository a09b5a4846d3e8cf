-- Question:   which pairs of dentures of one patient had a yes/no outcome in one or both?
-- Unit:       one row per outcome and pair
-- Parameters: none; outcomes with the last day of their windows and the dimensions come from the lists; reads cohort_firsts and cohort_pairs
-- Columns:    outcome (number), is_a, is_b, was_a, was_b (each as unit_is and unit_was in cohort_firsts), and the codes' numbers as in cohort_pairs
-- Order:      none; readers state their own
CREATE OR REPLACE TEMP TABLE cohort_hits AS
WITH hit AS (
    SELECT outcome, denture_a, denture_b, max(day_a) AS day_a, max(day_b) AS day_b
    FROM (
        SELECT f.outcome, p.denture_a, p.denture_b, f.day AS day_a, NULL AS day_b FROM cohort_firsts f JOIN cohort_pairs p ON p.denture_a = f.denture_no WHERE f.outcome < {{.Compared}}
        UNION ALL
        SELECT f.outcome, p.denture_a, p.denture_b, NULL, f.day FROM cohort_firsts f JOIN cohort_pairs p ON p.denture_b = f.denture_no WHERE f.outcome < {{.Compared}}
    )
    GROUP BY outcome, denture_a, denture_b
), placed AS (
    SELECT h.outcome, h.day_a, h.day_b,
           CASE WHEN p.left_a // 2 > o.days THEN 3 * (o.days + 1) + 2 ELSE 3 * (p.left_a // 2) + 2 - p.left_a % 2 END AS was_a,
           CASE WHEN p.left_b // 2 > o.days THEN 3 * (o.days + 1) + 2 ELSE 3 * (p.left_b // 2) + 2 - p.left_b % 2 END AS was_b
           {{- range .Dimensions}}, p.c{{.No}}{{end}}
    FROM hit h
    JOIN (VALUES {{range $i, $o := .Outcomes}}{{if $i}}, {{end}}({{.No}}, {{.Days}}){{end}}) o(no, days) ON o.no = h.outcome
    JOIN cohort_pairs p USING (denture_a, denture_b)
)
SELECT outcome, coalesce(3 * day_a, was_a) AS is_a, coalesce(3 * day_b, was_b) AS is_b, * EXCLUDE (outcome, day_a, day_b) FROM placed
