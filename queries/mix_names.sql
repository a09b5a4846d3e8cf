-- Question:   which case-mix levels make up each pattern?
-- Unit:       one row per pattern
-- Parameters: none; reads mix_levels
-- Columns:    pattern, arch, ridge_class, age_band, sex, prior_denture, course, operator
-- Order:      pattern
SELECT * FROM mix_levels ORDER BY pattern
