-- Question:   which findings of the privacy checks did someone clear, and why?
-- Unit:       one row per load that was not undone, column and kind
-- Parameters: none
-- Columns:    load_id, table_name, column_name, kind, reason
-- Order:      load_id, table_name, column_name, kind
SELECT * FROM cleared WHERE load_id NOT IN (SELECT load_id FROM undone) ORDER BY load_id, table_name, column_name, kind, reason
