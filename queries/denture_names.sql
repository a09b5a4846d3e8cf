-- Question:   which names do numbers stand for in the linked tables?
-- Unit:       one row per name
-- Parameters: none
-- Columns:    field (name of the column), no, name
-- Order:      none; the reader sorts
SELECT field, no, name FROM linked_names
