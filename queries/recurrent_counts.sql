-- Question:   the day counts of recurrent_days, in order
-- Unit:       one row per dimension, code and day
-- Parameters: none; reads recurrent_days
-- Columns:    dimension, code, day, ends, events
-- Order:      dimension, code, day
SELECT dimension, code, day, ends, events FROM recurrent_days ORDER BY dimension, code, day
