-- Question:   which visits count for which of the dentures just linked?
-- Unit:       one row per denture and visit
-- Parameters: filled with the codes of arches and the marks of visits; reads due_visits, linked_cases, linked_made and link_base
-- Columns:    denture_no, visit_id, day (days from the denture's own delivery, delivery day = 0), minutes (of chair time, 0 where none were
--             noted), marks (the sum of those that hold: adjusted, planned, a complaint of the display, one of the vertical)
-- Order:      none; readers state their own
-- A visit counts for a denture when it names its arch or both, on or after delivery and not after
-- the end of follow-up. A visit that names no arch counts for no denture.
CREATE OR REPLACE TEMP TABLE link_seen AS
WITH came AS (
    SELECT case_id, visit_id, day, arch IN ('upper', 'both') AS for_upper, arch IN ('lower', 'both') AS for_lower, CASE WHEN minutes > 0 THEN minutes ELSE 0 END AS minutes,
           CAST(CASE WHEN adjusted = 'yes' THEN {{.marks.adjusted}} ELSE 0 END + CASE WHEN reason = 'planned' THEN {{.marks.planned}} ELSE 0 END
                -- All four codes hold "too_"; few visits do, and taking a list apart costs ten times a look for letters.
                + CASE WHEN contains(complaints, 'too_') THEN
                      CASE WHEN list_has_any(string_split(complaints, '|'), ['shows_too_much', 'shows_too_little']) THEN {{.marks.display}} ELSE 0 END
                      + CASE WHEN list_has_any(string_split(complaints, '|'), ['too_tall', 'too_short']) THEN {{.marks.vertical}} ELSE 0 END
                  ELSE 0 END AS UTINYINT) AS marks
    FROM due_visits
    WHERE arch IS NOT NULL
), fresh AS (
    SELECT c.case_id, d.denture_no, d.denture_no % 2 = 1 AS upper, d.delivered_day, d.end_day
    FROM linked_made d
    JOIN linked_cases c ON c.case_no = d.denture_no - d.denture_no % 2
    WHERE c.case_no > (SELECT case_no FROM link_base)
)
SELECT d.denture_no, v.visit_id, v.day - d.delivered_day AS day, v.minutes, v.marks
FROM fresh d
JOIN came v ON v.case_id = d.case_id AND v.day BETWEEN d.delivered_day AND d.end_day AND CASE WHEN d.upper THEN v.for_upper ELSE v.for_lower END
