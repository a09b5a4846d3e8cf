-- Question:   to which groups does each denture belong that a page for outside may show?
-- Unit:       one row per denture and group
-- Parameters: none; reads and replaces group_rows
-- Columns:    as group_rows; quarters are taken together as years, clinicians are left out
-- Order:      none; readers state their own
CREATE OR REPLACE TEMP TABLE group_rows AS
SELECT CAST(dense_rank() OVER (ORDER BY dimension, code) AS INTEGER) AS grp, * EXCLUDE (grp)
FROM (
    SELECT * REPLACE (CASE WHEN dimension = 'quarter' THEN 'year' ELSE dimension END AS dimension,
                      CASE WHEN dimension = 'quarter' THEN code[1:4] ELSE code END AS code)
    FROM group_rows
    WHERE dimension <> 'clinician'
)
