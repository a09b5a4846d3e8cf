-- Question:   which combinations of case mix are there?
-- Unit:       one row per combination of the columns named in place of {columns}
-- Parameters: none
-- Columns:    mix (the number of the combination, from 1), and the columns named
-- Order:      none; pair_levels reads them in order
CREATE OR REPLACE TEMP TABLE pair_mixes AS
SELECT CAST(row_number() OVER (ORDER BY {columns}) AS INTEGER) AS mix, {columns}
FROM (SELECT DISTINCT {columns} FROM linked_dentures)
