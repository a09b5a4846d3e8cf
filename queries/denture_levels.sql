-- Question:   which values are there in each column that is written as text?
-- Unit:       one row per column and value
-- Parameters: none; the columns come from the list
-- Columns:    field (name of the column), level, no (number of the value in its column, from 1, in the order of the text)
-- Order:      none; readers state their own
CREATE OR REPLACE TEMP TABLE denture_levels AS
SELECT field, level, row_number() OVER (PARTITION BY field ORDER BY level) AS no
FROM (
{{- range $i, $t := .}}{{if $i}}
    UNION ALL{{end}}
    SELECT DISTINCT '{{.}}' AS field, {{.}} AS level FROM linked_coded WHERE {{.}} IS NOT NULL
{{- end}}
)
