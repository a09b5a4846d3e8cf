-- Question:   which value does each clinician write most often, and in what share of cases?
-- Unit:       one row per clinician and quantity; cases, for trays tried dentures
-- Parameters: none
-- Columns:    clinician, quantity (freeway_mm, display_target_mm, display_suggested_mm, tries), n recorded, mode value (of several
--             the smallest), at_mode, at_one (how many are 1),
--             distinct_values, and how many stand on whole and on half units. Display target and suggestion
--             are counted over the same cases, those with both
-- Order:      clinician, quantity
WITH cases_once AS ( -- of which a denture was delivered
    SELECT clinician_no, freeway_mm, display_target_mm, display_suggested_mm
    FROM linked_cases
    WHERE case_no IN (SELECT denture_no - denture_no % 2 FROM linked_made)
), long AS (
    SELECT clinician_no, 'freeway_mm' AS quantity, CAST(freeway_mm AS DECIMAL(8,2)) AS value FROM cases_once
    UNION ALL
    SELECT clinician_no, 'display_target_mm', display_target_mm FROM cases_once WHERE display_suggested_mm IS NOT NULL
    UNION ALL
    SELECT clinician_no, 'display_suggested_mm', display_suggested_mm FROM cases_once WHERE display_target_mm IS NOT NULL
    UNION ALL
    SELECT clinician_no, 'tries', tries FROM linked_made JOIN linked_cases ON case_no = denture_no - denture_no % 2
), counted AS (
    SELECT clinician_no, quantity, value, count(*) AS k FROM long WHERE value IS NOT NULL GROUP BY ALL
), ranked AS (
    SELECT *, row_number() OVER (PARTITION BY clinician_no, quantity ORDER BY k DESC, value) AS place FROM counted
)
SELECT w.name AS clinician, quantity, CAST(sum(k) AS BIGINT) AS n, CAST(max(value) FILTER (place = 1) AS DOUBLE) AS mode, max(k) AS at_mode,
       CAST(coalesce(sum(k) FILTER (value = 1), 0) AS BIGINT) AS at_one, count(*) AS distinct_values,
       CAST(coalesce(sum(k) FILTER (value % 1 = 0), 0) AS BIGINT) AS wholes, CAST(coalesce(sum(k) FILTER (value % 0.5 = 0), 0) AS BIGINT) AS halves
FROM ranked
JOIN linked_names w ON w.field = 'clinician' AND w.no = clinician_no
GROUP BY clinician, quantity
ORDER BY clinician, quantity
