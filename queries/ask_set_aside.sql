-- Question:   which rows were set aside, and why?
-- Unit:       one row per row set aside
-- Parameters: none
-- Columns:    load_id, table_name, file, line, column_name, value, reason, corrected_by (the load that brought it corrected)
-- Order:      load_id, table_name, file, line
SELECT a.*, (SELECT max(k.load_id) FROM corrected k WHERE k.of_load = a.load_id AND k.table_name = a.table_name AND k.file = a.file AND k.line = a.line AND k.column_name IS NOT DISTINCT FROM a.column_name) AS corrected_by
FROM set_aside a ORDER BY load_id, table_name, file, line, column_name
