-- Question:   which case mix, unit and period does each delivered denture belong to?
-- Unit:       one row per delivered denture
-- Parameters: none; how fine periods are (month, quarter or year) is filled in
-- Columns:    denture_no, patient_no, the levels with not_recorded for what was not, site, clinician, lab, period ("" where records_on
--             is coarser than asked for)
-- Order:      none; readers state their own
CREATE OR REPLACE TEMP VIEW mix_wide AS
SELECT denture_no, patient_no, arch, coalesce(CAST(ridge_class AS VARCHAR), 'not_recorded') AS ridge_class,
       coalesce(age_band, 'not_recorded') AS age_band, coalesce(sex, 'not_recorded') AS sex,
       coalesce(prior_denture, 'not_recorded') AS prior_denture, coalesce(course, 'not_recorded') AS course,
       coalesce(operator, 'not_recorded') AS operator,
       site, clinician, coalesce(lab, 'not_recorded') AS lab,
       {{if eq .String "year"}}records_on[1:4]
       {{- else if eq .String "quarter"}}CASE WHEN length(records_on) > 4 THEN quarter ELSE '' END
       {{- else}}CASE WHEN length(records_on) >= 7 AND records_on NOT LIKE '%Q%' THEN records_on[1:7] ELSE '' END{{end}} AS period
FROM linked_dentures
