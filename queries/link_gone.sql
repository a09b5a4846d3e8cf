-- Question:   which numbers do the touched cases and their dentures have?
-- Unit:       one row per number
-- Parameters: none; reads link_touched and linked_cases as the last link left it
-- Columns:    no (that of a case is also that of its lower denture)
-- Order:      none; readers state their own
CREATE OR REPLACE TEMP TABLE link_gone AS
SELECT case_no + unnest([0, 1]) AS no FROM linked_cases WHERE case_id IN (SELECT case_id FROM link_touched)
