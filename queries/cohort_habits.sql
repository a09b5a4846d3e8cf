-- Question:   on which side of each habit does a denture stand, and how did it leave?
-- Unit:       one row per delivered denture
-- Parameters: none; the habits come from the list, with the day from which leaving makes no difference
-- Columns:    as cohort; a habit's number is 1 without it in the lower arch, 2 without it in the upper, 3 and 4 with it likewise,
--             0 where it cannot be assessed
-- Order:      none; readers state their own
CREATE OR REPLACE TEMP TABLE cohort AS
SELECT denture_no, patient_no, CAST(2 * least(risk_days, {{.Last}}) + CAST(end_reason = 'died' AS INTEGER) AS INTEGER) AS left_as
{{- range .Dimensions}},
       CAST(coalesce(1 + up + 2 * CAST({{.Column}} AS INTEGER), 0) AS {{.Type}}) AS c{{.No}}
{{- end}}
FROM (SELECT *, CAST(arch = 'upper' AS INTEGER) AS up FROM linked_dentures)
