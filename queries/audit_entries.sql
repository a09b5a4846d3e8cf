-- Question:   which choices were recorded for one case, and how common are they in the house?
-- Unit:       one row per field (and arch, for tray and denture) recorded for the case
-- Parameters: $1 case_id
-- Columns:    arch ("" for the case as a whole), field, code, cases (or dentures) with the same code, those with any
-- Order:      the case's own fields, then upper, then lower; field
WITH choices AS (
    SELECT case_id, vertical_basis, rest_method, landmarks, rest_denture_in, centric_method FROM records
), tray AS (
    SELECT case_id, arch, size, sized_by, seating, touches, discomfort, technique FROM trays
), made AS (
    SELECT case_id, arch, base_method, scheme, remount FROM dentures
), long AS (
    SELECT case_id, '' AS arch, field, code FROM (UNPIVOT choices ON * EXCLUDE (case_id) INTO NAME field VALUE code)
    UNION ALL
    SELECT case_id, arch, field, code FROM (UNPIVOT tray ON * EXCLUDE (case_id, arch) INTO NAME field VALUE code)
    UNION ALL
    SELECT case_id, arch, field, code FROM (UNPIVOT made ON * EXCLUDE (case_id, arch) INTO NAME field VALUE code)
)
SELECT o.arch, o.field, o.code, count(*) FILTER (h.code = o.code) AS same, count(*) AS n
FROM long o
JOIN long h ON h.arch = o.arch AND h.field = o.field
WHERE o.case_id = CAST($1 AS VARCHAR)
GROUP BY o.arch, o.field, o.code
ORDER BY CASE o.arch WHEN '' THEN 0 WHEN 'upper' THEN 1 ELSE 2 END, o.field
