-- Question:   which exports were loaded, and stand?
-- Unit:       one row per load that was not undone
-- Parameters: none
-- Columns:    load_id, source, content_sha256, basis, invented, complete
-- Order:      load_id
SELECT load_id, source, content_sha256, basis, invented, complete FROM loads WHERE load_id NOT IN (SELECT load_id FROM undone) ORDER BY load_id
