-- Question:   does every load account for every row it read?
-- Unit:       one row per table and load that was not undone
-- Parameters: none
-- Columns:    load_id, table_name, rows_read, kept, set_aside, repeats, superseded
-- Order:      load_id, table_name
SELECT * FROM balance WHERE load_id NOT IN (SELECT load_id FROM undone) ORDER BY load_id, table_name
