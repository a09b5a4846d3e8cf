-- Question:   what is linked to each delivered denture?
-- Unit:       one row per delivered denture
-- Parameters: none
-- Columns:    those of linked_dentures
-- Order:      case_id, arch
SELECT * FROM linked_dentures ORDER BY case_id, arch
