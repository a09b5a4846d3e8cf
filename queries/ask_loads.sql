-- Question:   which exports were loaded?
-- Unit:       one row per load
-- Parameters: none
-- Columns:    load_id, source, content_sha256, basis, invented, complete
-- Order:      load_id
SELECT load_id, source, content_sha256, basis, invented, complete FROM loads ORDER BY load_id
