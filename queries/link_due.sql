-- Question:   which rows of one of the contract's tables are to be linked?
-- Unit:       one row of the table
-- Parameters: filled with Table and with Some: whether only the cases in link_touched are to be linked, or all
-- Columns:    those of the table
-- Order:      none; readers state their own
-- The other link_ statements read these views alone, so that linking everything and linking what a load touched are one text.
CREATE OR REPLACE TEMP VIEW due_{{.Table}} AS
SELECT * FROM main.{{.Table}}{{if .Some}} WHERE case_id IN (SELECT case_id FROM link_touched){{end}}
