-- Question:   which countable events fell into each outcome's window?
-- Unit:       one row per event (a visit, a sore spot) of a delivered denture
-- Parameters: none; windows come from link_settings (one row)
-- Columns:    outcome, case_id, arch, denture_no, day (days from the denture's own delivery, delivery day = 0),
--             n (1, or minutes of chair time)
-- Order:      none; readers state their own
-- A visit counts for a denture when it names its arch or both, on or after delivery and not after
-- the end of follow-up. A visit that names no arch counts for no denture.
CREATE OR REPLACE TABLE linked_events AS
WITH seen AS (
    SELECT d.case_id, d.arch, d.denture_no, v.visit_id, v.day - d.delivered_day AS day, v.adjusted, v.minutes
    FROM linked_dentures d
    JOIN visits v ON v.case_id = d.case_id AND (v.arch = d.arch OR v.arch = 'both') AND v.day BETWEEN d.delivered_day AND d.end_day
)
SELECT 'adjustment_visits' AS outcome, case_id, arch, denture_no, day, 1 AS n
FROM seen CROSS JOIN link_settings WHERE adjusted = 'yes' AND day <= adjustment_days
UNION ALL
SELECT 'chair_minutes', case_id, arch, denture_no, day, minutes
FROM seen CROSS JOIN link_settings WHERE adjusted = 'yes' AND minutes > 0 AND day <= adjustment_days
UNION ALL
SELECT 'early_sore_spots', s.case_id, s.arch, s.denture_no, s.day, 1
FROM seen s JOIN sore_spots p ON p.visit_id = s.visit_id AND p.arch = s.arch CROSS JOIN link_settings WHERE s.day <= sore_days
