-- Question:   how often was each measure read in a case, and how far apart do the readings lie?
-- Unit:       one row per case and measure with several readings by the case's own clinician
-- Parameters: none
-- Columns:    case_no (that of the case's lower denture; -1 where it is not linked), measure, takes (readings), squares_e4 (takes times the
--             sum of squares about the case's mean, in ten-thousandths of a square millimetre, so that sums are exact)
-- Order:      none; the reader adds them up
-- A reading without a reader is the clinician's own: only the others are held to their cases.
WITH own AS (
    SELECT case_id, measure, CAST(round(value_mm * 100) AS BIGINT) AS v FROM readings WHERE reader IS NULL
    UNION ALL
    SELECT r.case_id, r.measure, CAST(round(r.value_mm * 100) AS BIGINT)
    FROM readings r JOIN cases c ON c.case_id = r.case_id AND c.clinician = r.reader
), by_case AS (
    SELECT case_id, measure, count(*) AS takes, CAST(count(*) * sum(v * v) - sum(v) * sum(v) AS BIGINT) AS squares_e4
    FROM own
    GROUP BY case_id, measure
    HAVING count(*) > 1
)
SELECT CAST(coalesce(c.case_no, -1) AS BIGINT) AS case_no, measure, takes, squares_e4
FROM by_case LEFT JOIN linked_cases c USING (case_id)
