-- Question:   how many cases agree on what a neighbour or relative may know of a person?
-- Unit:       one row per combination of age band, sex, site, quarter and ridge class
-- Parameters: none; reads temp.privacy_cases, which a load or a look makes from the rows as read
-- Columns:    age_band, sex, site, period (YYYY-Qn, or YYYY where no more is given), ridge_class,
--             cases, with_outcome (cases with a remake, reline or rebase)
-- Order:      age_band, sex, site, period, ridge_class
WITH q AS (
    SELECT coalesce(age_band, '') AS age_band, coalesce(sex, '') AS sex, coalesce(site, '') AS site, coalesce(ridge_class, '') AS ridge_class, has_outcome,
           coalesce(CASE WHEN regexp_matches(records_on, '^\d{4}-\d{2}')
                         THEN records_on[1:4] || '-Q' || CAST((CAST(records_on[6:7] AS INTEGER) + 2) // 3 AS VARCHAR)
                         ELSE records_on END, '') AS period
    FROM temp.privacy_cases
)
SELECT age_band, sex, site, period, ridge_class, count(*) AS cases, count(*) FILTER (has_outcome) AS with_outcome
FROM q
GROUP BY ALL
ORDER BY age_band, sex, site, period, ridge_class
