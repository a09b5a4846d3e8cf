-- Question:   which cases do the touched cases name, or did they name, as the case that they remake?
-- Unit:       one row per case named
-- Parameters: none; reads link_touched, cases (as they are now) and linked_remakes (as of the last link)
-- Columns:    case_id
-- Order:      none; readers state their own
INSERT INTO link_touched
SELECT remake_of FROM cases WHERE remake_of IS NOT NULL AND case_id IN (SELECT case_id FROM link_touched)
UNION
SELECT remake_of FROM linked_remakes WHERE case_id IN (SELECT case_id FROM link_touched)
