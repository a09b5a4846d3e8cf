-- Question:   which cases stand at a site that has begun, or ceased, to take repeats?
-- Unit:       one row per case
-- Parameters: none; reads link_houses (as it is now) and linked_houses (as of the last link)
-- Columns:    case_id
-- Order:      none; readers state their own
INSERT INTO link_touched
SELECT case_id FROM cases
WHERE site IN (SELECT site FROM link_houses n FULL JOIN linked_houses w USING (site)
               WHERE coalesce(n.takes_repeats, FALSE) <> coalesce(w.takes_repeats, FALSE))
