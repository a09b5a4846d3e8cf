-- Question:   how often were rest and occlusion read in each case?
-- Unit:       one row per case with several readings of one of them by its own clinician
-- Parameters: none
-- Columns:    takes, one whole number: that of the case (and of its lower denture) times 2^16, the readings of rest times 2^8, and those of occlusion
-- Order:      none; the reader sorts
-- A reading without a reader is the clinician's own: only the others are held to their cases.
WITH own AS (
    SELECT case_id, measure FROM readings WHERE reader IS NULL
    UNION ALL
    SELECT r.case_id, r.measure FROM readings r JOIN cases c ON c.case_id = r.case_id AND c.clinician = r.reader
), takes AS (
    SELECT case_id, count(*) FILTER (measure = 'vdr') AS vdr, count(*) FILTER (measure = 'vdo') AS vdo
    FROM own
    GROUP BY case_id
    HAVING vdr > 1 OR vdo > 1
)
SELECT CAST(c.case_no AS BIGINT) * 65536 + 256 * t.vdr + t.vdo AS takes
FROM takes t JOIN linked_cases c USING (case_id)
