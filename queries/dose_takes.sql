-- Question:   of how many readings is each recorded value the mean?
-- Unit:       one row per number of readings of rest and of occlusion
-- Parameters: none; reads dose_rows
-- Columns:    vdr, vdo (readings by the case's own clinician; 1 where none was written down singly), n (dentures)
-- Order:      vdr, vdo
WITH takes AS (
    SELECT r.case_id, count(*) FILTER (r.measure = 'vdr') AS vdr, count(*) FILTER (r.measure = 'vdo') AS vdo
    FROM readings r
    JOIN cases c USING (case_id)
    WHERE coalesce(r.reader, c.clinician) = c.clinician
    GROUP BY r.case_id
)
SELECT greatest(coalesce(t.vdr, 0), 1) AS vdr, greatest(coalesce(t.vdo, 0), 1) AS vdo, count(*) AS n
FROM dose_rows r
JOIN linked_dentures d USING (denture_no)
LEFT JOIN takes t USING (case_id)
GROUP BY ALL
ORDER BY vdr, vdo
