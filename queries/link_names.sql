-- Question:   which sites, clinicians, labs and periods of the cases to be linked have no number yet, and which do they get?
-- Unit:       one row per name without a number
-- Parameters: none; reads due_cases and linked_names, into which it goes
-- Columns:    field (name of the column), no (no two names have the same), name
-- Order:      none; no figure depends on which name has which number
SELECT field, CAST((SELECT coalesce(max(no), 0) FROM linked_names) + row_number() OVER () AS INTEGER) AS no, name
FROM (
    SELECT DISTINCT 'site' AS field, site AS name FROM due_cases
    UNION ALL
    SELECT DISTINCT 'clinician', clinician FROM due_cases
    UNION ALL
    SELECT DISTINCT 'lab', lab FROM due_cases WHERE lab IS NOT NULL
    UNION ALL
    SELECT DISTINCT 'records_on', records_on FROM due_cases
) n
WHERE NOT EXISTS (SELECT 1 FROM linked_names k WHERE k.field = n.field AND k.name = n.name)
