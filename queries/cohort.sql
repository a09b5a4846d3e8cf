-- Question:   to which group of each dimension does a denture belong, and how did it leave?
-- Unit:       one row per delivered denture
-- Parameters: none; the dimensions come from the list, with the day from which leaving makes no difference
-- Columns:    denture_no, patient_no, left_as (twice the last day of follow-up, no later than that day, and 1 more if it is a death),
--             and for each dimension the number of the code, 0 for none
-- Order:      none; readers state their own
-- Codes are small numbers, so that whatever groups by them neither compares nor moves text.
CREATE OR REPLACE TEMP TABLE cohort AS
SELECT w.denture_no, w.patient_no, CAST(2 * least(w.risk_days, {{.Last}}) + CAST(w.died AS INTEGER) AS INTEGER) AS left_as
{{- range .Dimensions}},
       CAST(coalesce(n{{.No}}.no, 0) AS {{.Type}}) AS c{{.No}}
{{- end}}
FROM cohort_wide w
{{- range .Dimensions}}
LEFT JOIN (SELECT code, no FROM cohort_codes WHERE dim = {{.No}}) n{{.No}} ON n{{.No}}.code = w.{{.Column}}
{{- end}}
