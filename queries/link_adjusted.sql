-- Question:   which visits at which a denture was adjusted fell into their window?
-- Unit:       one row per visit and denture just linked
-- Parameters: none; the window comes from link_settings (one row). Reads link_seen
-- Columns:    denture_no, day (days from the denture's own delivery, delivery day = 0), minutes (of chair time, 0 where none were noted)
-- Order:      none; readers state their own
SELECT denture_no, day, CASE WHEN minutes > 0 THEN minutes ELSE 0 END AS minutes
FROM link_seen CROSS JOIN link_settings WHERE adjusted AND day <= adjustment_days
