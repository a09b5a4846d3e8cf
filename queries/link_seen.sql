-- Question:   which visits count for which of the dentures just linked?
-- Unit:       one row per denture and visit
-- Parameters: filled with the marks of visits; reads due_visits, linked_cases, linked_made and link_base
-- Columns:    visit_id, and seen, one whole number: that of the denture times 2^32, the day (from the denture's own delivery, delivery day
--             = 0) times 2^16, the minutes of chair time (0 where none were noted) times 2^4, and the marks that hold (adjusted, planned, a
--             complaint of the display, one of the vertical)
-- Order:      none; readers state their own
-- A visit counts for a denture when it names its arch or both, on or after delivery and not after
-- the end of follow-up. A visit that names no arch counts for no denture.
CREATE OR REPLACE TEMP TABLE link_seen AS
WITH came AS (
    SELECT case_id, visit_id, day, arch IN ('upper', 'both') AS for_upper, arch IN ('lower', 'both') AS for_lower,
           CASE WHEN minutes > 0 THEN 16 * minutes ELSE 0 END
           + CASE WHEN adjusted = 'yes' THEN {{.marks.adjusted}} ELSE 0 END + CASE WHEN reason = 'planned' THEN {{.marks.planned}} ELSE 0 END
           -- All four codes hold "too_"; few visits do, and taking a list apart costs ten times a look for letters.
           + CASE WHEN contains(complaints, 'too_') THEN
                 CASE WHEN list_has_any(string_split(complaints, '|'), ['shows_too_much', 'shows_too_little']) THEN {{.marks.display}} ELSE 0 END
                 + CASE WHEN list_has_any(string_split(complaints, '|'), ['too_tall', 'too_short']) THEN {{.marks.vertical}} ELSE 0 END
             ELSE 0 END AS what
    FROM due_visits
    WHERE arch IS NOT NULL
), fresh AS (
    SELECT c.case_id, d.denture_no, d.denture_no % 2 = 1 AS upper, d.delivered_day, d.end_day
    FROM linked_made d
    JOIN linked_cases c ON c.case_no = d.denture_no - d.denture_no % 2
    WHERE c.case_no > (SELECT case_no FROM link_base)
)
SELECT v.visit_id, CAST(d.denture_no AS BIGINT) * 4294967296 + CAST(v.day - d.delivered_day AS BIGINT) * 65536 + v.what AS seen
FROM fresh d
JOIN came v ON v.case_id = d.case_id AND v.day BETWEEN d.delivered_day AND d.end_day AND CASE WHEN d.upper THEN v.for_upper ELSE v.for_lower END
