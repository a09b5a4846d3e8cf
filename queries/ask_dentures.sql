-- Question:   what is linked to each delivered denture?
-- Unit:       one row per delivered denture
-- Parameters: none
-- Columns:    those of linked_dentures; denture_no and patient_no are places in the order of the keys, whatever order the loads came in
-- Order:      case_id, arch
SELECT * REPLACE (CAST(row_number() OVER (ORDER BY case_id, arch) AS INTEGER) AS denture_no, CAST(dense_rank() OVER (ORDER BY patient_key) AS INTEGER) AS patient_no)
FROM linked_dentures
ORDER BY case_id, arch
