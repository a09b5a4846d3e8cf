-- Question:   what was known of one case before delivery, and how long was it observed?
-- Unit:       one row, none for an unknown case
-- Parameters: $1 case_id
-- Columns:    age_band, sex, ridge_class (0 not recorded), prior_denture, course, operator, observed_to_day, observed_end ("" where not
--             recorded), display suggested by the lip length (mm, NULL where it suggests none)
-- Order:      none, one row
SELECT coalesce(age_band, ''), coalesce(sex, ''), coalesce(ridge_class, 0), coalesce(prior_denture, ''), coalesce(course, ''), coalesce(operator, ''),
       observed_to_day, coalesce(observed_end, ''),
       (SELECT CAST(max(d.display_suggested_mm) AS DOUBLE) FROM linked_dentures d WHERE d.case_id = c.case_id)
FROM cases c
WHERE case_id = CAST($1 AS VARCHAR)
