-- Question:   which of the cases to be linked are remakes of which cases?
-- Unit:       one row per case that names another
-- Parameters: none; reads due_cases
-- Columns:    case_id, remake_of
-- Order:      none; readers state their own
-- Kept so that, when a case is replaced or taken back, the case that it named is linked again too.
SELECT case_id, remake_of FROM due_cases WHERE remake_of IS NOT NULL
