-- Question:   how often were rest and occlusion read in the case of each denture?
-- Unit:       one row per delivered denture whose case has single readings by its own clinician
-- Parameters: none
-- Columns:    denture_no, vdr, vdo (readings of rest and of occlusion; 1 where none was written down singly)
-- Order:      none; readers join
CREATE OR REPLACE TEMP TABLE dose_taken AS
WITH takes AS (
    SELECT r.case_id, count(*) FILTER (r.measure = 'vdr') AS vdr, count(*) FILTER (r.measure = 'vdo') AS vdo
    FROM readings r
    JOIN cases c USING (case_id)
    WHERE coalesce(r.reader, c.clinician) = c.clinician
    GROUP BY r.case_id
)
SELECT d.denture_no, greatest(t.vdr, 1) AS vdr, greatest(t.vdo, 1) AS vdo
FROM linked_dentures d
JOIN takes t USING (case_id)
