-- Question:   which levels does each column of case mix have?
-- Unit:       one row per column and level
-- Parameters: none; the columns come from the list of columns
-- Columns:    no (the column's place in the list, from 0), level as text (NULL: not recorded)
-- Order:      no, and the level's own order with NULL last
SELECT no, CAST(level AS VARCHAR) AS level
FROM (
{{- range $i, $c := .}}
    {{if $i}}UNION ALL {{end}}SELECT {{$i}} AS no, row_number() OVER (ORDER BY level) AS place, CAST(level AS VARCHAR) AS level FROM (SELECT DISTINCT {{$c}} AS level FROM linked_dentures)
{{- end}}
)
ORDER BY no, place
