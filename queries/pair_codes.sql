-- Question:   whose dentures are compared?
-- Unit:       one row per clinician with a delivered denture
-- Parameters: none; reads pair_clinicians
-- Columns:    clinician
-- Order:      clinician_no
SELECT clinician FROM pair_clinicians ORDER BY clinician_no
