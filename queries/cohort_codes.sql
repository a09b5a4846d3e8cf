-- Question:   which codes does each dimension have?
-- Unit:       one row per dimension and code
-- Parameters: none; the dimensions come from the list
-- Columns:    dim (number of the dimension), code, no (number of the code in its dimension, from 1, in the order of the text)
-- Order:      none; readers state their own
CREATE OR REPLACE TEMP TABLE cohort_codes AS
SELECT dim, code, CAST(row_number() OVER (PARTITION BY dim ORDER BY code) AS INTEGER) AS no
FROM (
{{- range $i, $d := .Dimensions}}{{if $i}}
    UNION ALL{{end}}
    SELECT DISTINCT {{.No}} AS dim, {{.Column}} AS code FROM cohort_wide WHERE {{.Column}} IS NOT NULL
{{- end}}
)
