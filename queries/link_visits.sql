-- Question:   which visits count for which of the dentures just linked, whatever they were for?
-- Unit:       one row per denture and visit
-- Parameters: none; reads link_seen
-- Columns:    seen, as in link_seen; link_seen_view takes it apart
-- Order:      none; readers state their own
SELECT seen FROM link_seen
