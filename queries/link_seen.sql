-- Question:   which visits count for which of the dentures just linked?
-- Unit:       one row per denture and visit
-- Parameters: none; reads due_visits, linked_coded and link_base
-- Columns:    denture_no, visit_id, day (days from the denture's own delivery, delivery day = 0), adjusted, minutes, planned,
--             of_display and of_vertical (complaints; not TRUE where there was none)
-- Order:      none; readers state their own
-- A visit counts for a denture when it names its arch or both, on or after delivery and not after
-- the end of follow-up. A visit that names no arch counts for no denture.
CREATE OR REPLACE TEMP TABLE link_seen AS
WITH came AS (
    SELECT case_id, visit_id, day, arch IN ('upper', 'both') AS for_upper, arch IN ('lower', 'both') AS for_lower, adjusted = 'yes' AS adjusted, minutes,
           reason = 'planned' AS planned,
           -- All four codes hold "too_"; few visits do, and taking a list apart costs ten times a look for letters.
           CASE WHEN contains(complaints, 'too_') THEN list_has_any(string_split(complaints, '|'), ['shows_too_much', 'shows_too_little']) END AS of_display,
           CASE WHEN contains(complaints, 'too_') THEN list_has_any(string_split(complaints, '|'), ['too_tall', 'too_short']) END AS of_vertical
    FROM due_visits
    WHERE arch IS NOT NULL
), fresh AS (
    SELECT case_id, denture_no, arch = 'upper' AS upper, delivered_day, end_day FROM linked_coded WHERE denture_no > (SELECT denture_no FROM link_base)
)
SELECT d.denture_no, v.visit_id, v.day - d.delivered_day AS day, v.adjusted, v.minutes, v.planned, v.of_display, v.of_vertical
FROM fresh d
JOIN came v ON v.case_id = d.case_id AND v.day BETWEEN d.delivered_day AND d.end_day AND CASE WHEN d.upper THEN v.for_upper ELSE v.for_lower END
