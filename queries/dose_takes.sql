-- Question:   how often were rest and occlusion read in the case of each denture?
-- Unit:       one row per delivered denture whose case has several readings of one of them by its own clinician
-- Parameters: none
-- Columns:    one whole number: that of the denture times 2^16, the readings of rest times 2^8, and those of occlusion
-- Order:      none; the reader sorts
WITH takes AS (
    SELECT r.case_id, count(*) FILTER (r.measure = 'vdr') AS vdr, count(*) FILTER (r.measure = 'vdo') AS vdo
    FROM readings r
    JOIN cases c USING (case_id)
    WHERE coalesce(r.reader, c.clinician) = c.clinician
    GROUP BY r.case_id
    HAVING vdr > 1 OR vdo > 1
)
SELECT CAST(d.denture_no AS BIGINT) * 65536 + 256 * t.vdr + t.vdo
FROM linked_made d
JOIN linked_cases c ON c.case_no = d.denture_no - d.denture_no % 2
JOIN takes t USING (case_id)
