-- Question:   does every load account for every row it read?
-- Unit:       one row per load and table
-- Parameters: none
-- Columns:    load_id, table_name, rows_read, kept, set_aside, repeats, superseded
-- Order:      load_id, table_name
SELECT * FROM balance ORDER BY load_id, table_name
