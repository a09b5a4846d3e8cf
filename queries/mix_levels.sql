-- Question:   which case-mix levels make up each pattern?
-- Unit:       one row per pattern
-- Parameters: none; reads mix_rows
-- Columns:    pattern, arch, ridge_class, age_band, sex, prior_denture, course, operator
-- Order:      pattern
SELECT DISTINCT pattern, arch, ridge_class, age_band, sex, prior_denture, course, operator FROM mix_rows ORDER BY pattern
