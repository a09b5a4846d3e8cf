-- Question:   the day counts of recurrent_days, in order
-- Unit:       one row per dimension, code and day
-- Parameters: none; reads recurrent_days and group_rows
-- Columns:    dimension, code, day, ends, events
-- Order:      dimension, code, day
SELECT n.dimension, n.code, d.day, d.ends, d.events
FROM recurrent_days d JOIN (SELECT DISTINCT grp, dimension, code FROM group_rows) n USING (grp)
ORDER BY n.dimension, n.code, d.day
