-- Question:   which case mix, unit and period does each delivered denture belong to?
-- Unit:       one row per delivered denture
-- Parameters: $1 how fine periods are: month, quarter or year
-- Columns:    denture_no, patient_no, pattern (number of the case-mix levels, from 1, in their order), the levels with not_recorded
--             for what was not, site, clinician, lab, period (NULL where records_on is coarser than asked for)
-- Order:      none; readers state their own
CREATE OR REPLACE TEMP TABLE mix_rows AS
WITH levels AS (
    SELECT denture_no, patient_no, arch, coalesce(CAST(ridge_class AS VARCHAR), 'not_recorded') AS ridge_class,
           coalesce(age_band, 'not_recorded') AS age_band, coalesce(sex, 'not_recorded') AS sex,
           coalesce(prior_denture, 'not_recorded') AS prior_denture, coalesce(course, 'not_recorded') AS course,
           coalesce(operator, 'not_recorded') AS operator,
           site, clinician, coalesce(lab, 'not_recorded') AS lab,
           CASE CAST($1 AS VARCHAR) WHEN 'year' THEN records_on[1:4]
                WHEN 'quarter' THEN CASE WHEN length(records_on) > 4 THEN quarter END
                ELSE CASE WHEN length(records_on) >= 7 AND records_on NOT LIKE '%Q%' THEN records_on[1:7] END END AS period
    FROM linked_dentures
)
SELECT CAST(dense_rank() OVER (ORDER BY arch, ridge_class, age_band, sex, prior_denture, course, operator) AS INTEGER) AS pattern, *
FROM levels
