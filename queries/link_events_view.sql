-- Question:   which countable events fell into each outcome's window, in words?
-- Unit:       one row per event (a visit, its chair time, a sore spot) of a delivered denture
-- Parameters: none; the window of visits comes from link_settings (one row)
-- Columns:    outcome, denture_no, arch, day (days from the denture's own delivery, delivery day = 0), n (1, or minutes of chair time), place (of
--             a sore spot, as in link_sore; NULL of others)
-- Order:      none; readers state their own
CREATE OR REPLACE VIEW linked_events AS
SELECT outcome, denture_no, CASE denture_no % 2 WHEN 1 THEN 'upper' ELSE 'lower' END AS arch, day, n, place
FROM (SELECT 'adjustment_visits' AS outcome, denture_no, day, 1 AS n, NULL AS place
      FROM linked_seen WHERE adjusted AND day <= (SELECT adjustment_days FROM link_settings)
      UNION ALL
      SELECT 'chair_minutes', denture_no, day, minutes, NULL
      FROM linked_seen WHERE adjusted AND day <= (SELECT adjustment_days FROM link_settings) AND minutes > 0
      UNION ALL
      SELECT 'early_sore_spots', denture_no, day, 1, place FROM linked_spots WHERE early)
