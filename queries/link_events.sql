-- Question:   which countable events fell into each outcome's window?
-- Unit:       one row per event (a visit, a sore spot) of a denture just linked
-- Parameters: filled with the type of outcomes; windows come from link_settings (one row). Reads link_seen
-- Columns:    outcome, denture_no, day (days from the denture's own delivery, delivery day = 0), n (1, or minutes of chair time), place (of a sore spot,
--             a number for its zone and side as zonePlaces counts them; 0 of others)
-- Order:      none; readers state their own
SELECT CAST('adjustment_visits' AS {{.event}}) AS outcome, denture_no, day, 1 AS n, CAST(0 AS UTINYINT) AS place
FROM link_seen CROSS JOIN link_settings WHERE adjusted AND day <= adjustment_days
UNION ALL
SELECT CAST('chair_minutes' AS {{.event}}), denture_no, day, minutes, 0
FROM link_seen CROSS JOIN link_settings WHERE adjusted AND minutes > 0 AND day <= adjustment_days
UNION ALL
SELECT CAST('early_sore_spots' AS {{.event}}), s.denture_no, s.day, 1, p.place
FROM (SELECT denture_no, upper, visit_id, day FROM link_seen CROSS JOIN link_settings WHERE day <= sore_days) s
JOIN (SELECT visit_id, arch = 'upper' AS upper,
             CAST(1 + {{.sides}} * enum_code(CAST(zone AS {{.zone}})) + coalesce(1 + enum_code(CAST(side AS {{.side}})), 0) AS UTINYINT) AS place
      FROM sore_spots) p ON p.visit_id = s.visit_id AND p.upper = s.upper
