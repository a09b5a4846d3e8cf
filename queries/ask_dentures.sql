-- Question:   what is linked to each delivered denture?
-- Unit:       one row per delivered denture
-- Parameters: none
-- Columns:    those of linked_dentures, and patient_key; denture_no and patient_no are places in the order of the keys, whatever order the loads came in
-- Order:      case_id, arch
SELECT case_id, arch, patient_key, * EXCLUDE (case_id, arch, patient_key) REPLACE (CAST(row_number() OVER (ORDER BY case_id, arch) AS INTEGER) AS denture_no, CAST(dense_rank() OVER (ORDER BY patient_key) AS INTEGER) AS patient_no)
FROM linked_dentures JOIN linked_patients USING (patient_no)
ORDER BY case_id, arch
