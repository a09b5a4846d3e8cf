-- Question:   what is each combination of case mix made of?
-- Unit:       one row per combination
-- Parameters: none; reads pair_mixes
-- Columns:    mix, then its columns as text in the order they were named
-- Order:      mix
SELECT mix, CAST(COLUMNS(* EXCLUDE (mix)) AS VARCHAR) FROM pair_mixes ORDER BY mix
