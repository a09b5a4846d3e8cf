-- Question:   of how many readings is each recorded value the mean?
-- Unit:       one row per number of readings of rest and of occlusion
-- Parameters: none; reads dose_rows, dose_taken
-- Columns:    vdr, vdo (readings by the case's own clinician; 1 where none was written down singly), n (dentures)
-- Order:      vdr, vdo
SELECT coalesce(t.vdr, 1) AS vdr, coalesce(t.vdo, 1) AS vdo, count(*) AS n
FROM dose_rows r
LEFT JOIN dose_taken t USING (denture_no)
GROUP BY ALL
ORDER BY vdr, vdo
