-- Question:   which visits count for which of the dentures just linked, whatever they were for?
-- Unit:       one row per denture and visit
-- Parameters: none; reads link_seen
-- Columns:    denture_no, day, minutes and marks, as in link_seen
-- Order:      none; readers state their own
SELECT denture_no, day, minutes, marks FROM link_seen
