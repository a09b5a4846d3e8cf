-- Question:   which values are there in each column that is written as text, in order?
-- Unit:       one row per column and value
-- Parameters: none; reads denture_levels
-- Columns:    field, level
-- Order:      field, number of the value
SELECT field, level FROM denture_levels ORDER BY field, no
