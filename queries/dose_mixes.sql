-- Question:   which combinations of case mix are there?
-- Unit:       one row per combination of the columns filled in
-- Parameters: none
-- Columns:    key (a number made from the combination; one review in billions has two that share one, which merges them), then the
--             columns as text in the order they were named
-- Order:      key
SELECT CAST(key AS VARCHAR) AS key, CAST(any_value(COLUMNS(* EXCLUDE (key))) AS VARCHAR)
FROM (SELECT hash({{range $i, $c := .}}{{if $i}}, {{end}}{{$c}}{{end}}) AS key, {{range $i, $c := .}}{{if $i}}, {{end}}{{$c}}{{end}} FROM linked_dentures)
GROUP BY key
ORDER BY key
