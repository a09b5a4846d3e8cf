-- Question:   at which visits was each denture seen?
-- Unit:       one row per denture and visit that counts for it
-- Parameters: filled with the marks of visits
-- Columns:    denture_no, day (days from the denture's own delivery, delivery day = 0), minutes (of chair time, 0 where none were noted),
--             adjusted, planned, of_display and of_vertical (complaints)
-- Order:      none; readers state their own
CREATE OR REPLACE VIEW linked_seen AS
SELECT CAST(seen >> 32 AS INTEGER) AS denture_no, CAST(seen >> 16 & 65535 AS INTEGER) AS day, CAST(seen >> 4 & 4095 AS INTEGER) AS minutes,
       seen & {{.marks.adjusted}} > 0 AS adjusted, seen & {{.marks.planned}} > 0 AS planned,
       seen & {{.marks.display}} > 0 AS of_display, seen & {{.marks.vertical}} > 0 AS of_vertical
FROM linked_visits
