-- Question:   which patterns of case mix are there?
-- Unit:       one row per combination of levels
-- Parameters: none; reads mix_wide
-- Columns:    pattern (number, from 1, in the order of the levels), arch, ridge_class, age_band, sex, prior_denture, course, operator
-- Order:      none; mix_names reads them in order
CREATE OR REPLACE TEMP TABLE mix_levels AS
SELECT CAST(row_number() OVER (ORDER BY arch, ridge_class, age_band, sex, prior_denture, course, operator) AS INTEGER) AS pattern, *
FROM (SELECT DISTINCT arch, ridge_class, age_band, sex, prior_denture, course, operator FROM mix_wide)
