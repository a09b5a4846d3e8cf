-- Question:   which rows of one of the contract's tables are to be linked?
-- Unit:       one row of the table
-- Parameters: filled with Table, with Some: whether only the cases in link_touched are to be linked, or all, and with the first case From and
--             the first no more To, as literals, "" where there is none
-- Columns:    those of the table
-- Order:      none; readers state their own
-- The other link_ statements read these views alone, so that linking everything and linking what a load touched are one text.
CREATE OR REPLACE TEMP VIEW due_{{.Table}} AS
SELECT * FROM main.{{.Table}} WHERE TRUE
{{- if .Some}} AND case_id IN (SELECT case_id FROM link_touched){{end}}
{{- if .From}} AND case_id >= {{.From}}{{end}}
{{- if .To}} AND case_id < {{.To}}{{end}}
