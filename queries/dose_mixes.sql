-- Question:   which combinations of case mix are there?
-- Unit:       one row per combination of the columns named in place of {columns}
-- Parameters: none
-- Columns:    key (a number made from the combination; one review in billions has two that share one, which merges them), then the
--             columns as text in the order they were named
-- Order:      key
SELECT CAST(key AS VARCHAR) AS key, CAST(any_value(COLUMNS(* EXCLUDE (key))) AS VARCHAR)
FROM (SELECT hash({columns}) AS key, {columns} FROM linked_dentures)
GROUP BY key
ORDER BY key
