-- Question:   which rows were set aside, and why?
-- Unit:       one row per row set aside
-- Parameters: none
-- Columns:    load_id, table_name, file, line, column_name, value, reason
-- Order:      load_id, table_name, file, line
SELECT * FROM set_aside ORDER BY load_id, table_name, file, line, column_name
