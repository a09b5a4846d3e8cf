-- Question:   how far apart do repeated readings of one thing lie?
-- Unit:       one row per measure and number of readings by the case's own clinician
-- Parameters: none
-- Columns:    measure, takes (readings of the measure in a case), cases, squares_e4 (takes times the sum of squares about the
--             case's mean, summed over cases, in ten-thousandths of a square millimetre, so that sums are exact)
-- Order:      measure, takes
-- A reading without a reader is the clinician's own: only the others are held to their cases.
WITH own AS (
    SELECT case_id, measure, CAST(round(value_mm * 100) AS BIGINT) AS v FROM readings WHERE reader IS NULL
    UNION ALL
    SELECT r.case_id, r.measure, CAST(round(r.value_mm * 100) AS BIGINT)
    FROM readings r JOIN cases c ON c.case_id = r.case_id AND c.clinician = r.reader
), by_case AS (
    SELECT case_id, measure, count(*) AS takes, count(*) * sum(v * v) - sum(v) * sum(v) AS squares
    FROM own
    GROUP BY case_id, measure
)
SELECT measure, takes, count(*) AS cases, CAST(sum(squares) AS BIGINT) AS squares_e4
FROM by_case
GROUP BY measure, takes
ORDER BY measure, takes
