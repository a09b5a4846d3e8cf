-- Question:   how often were rest and occlusion of each case to be linked read singly, and how far apart?
-- Unit:       one row per case with a single reading of either by its own clinician
-- Parameters: none; reads due_readings and due_cases
-- Columns:    case_id, site, most_takes (of either measure), apart_mm (between readings of one measure, NULL where neither was repeated)
-- Order:      none; readers state their own
WITH repeated AS (
    SELECT r.case_id, c.site, r.measure, count(*) AS takes, max(r.value_mm) - min(r.value_mm) AS apart_mm
    FROM due_readings r
    JOIN due_cases c USING (case_id)
    WHERE r.measure IN ('vdr', 'vdo') AND coalesce(r.reader, c.clinician) = c.clinician
    GROUP BY r.case_id, c.site, r.measure
)
SELECT case_id, site, CAST(max(takes) AS INTEGER) AS most_takes, max(apart_mm) FILTER (takes > 1) AS apart_mm
FROM repeated
GROUP BY case_id, site
