-- Question:   which kept values are unusual?
-- Unit:       one row per value
-- Parameters: none
-- Columns:    load_id, table_name, case_id, row_key, column_name, value, rule
-- Order:      load_id, table_name, case_id, row_key, column_name
SELECT * FROM flags ORDER BY load_id, table_name, case_id, row_key, column_name, rule
