-- Question:   which dentures of the touched cases were linked?
-- Unit:       one row per denture
-- Parameters: none; reads link_touched and linked_coded as the last link left it
-- Columns:    denture_no
-- Order:      none; readers state their own
CREATE OR REPLACE TEMP TABLE link_gone AS
SELECT denture_no FROM linked_coded WHERE case_id IN (SELECT case_id FROM link_touched)
