-- Question:   which countable events fell into each outcome's window, in words?
-- Unit:       one row per event (a visit, a sore spot) of a delivered denture
-- Parameters: none
-- Columns:    outcome, denture_no, arch, day (days from the denture's own delivery, delivery day = 0), n (1, or minutes of chair time), place (of a sore spot, as in link_events)
-- Order:      none; readers state their own
CREATE OR REPLACE VIEW linked_events AS
SELECT CAST(outcome AS VARCHAR) AS outcome, denture_no, CASE denture_no % 2 WHEN 1 THEN 'upper' ELSE 'lower' END AS arch, day, n, place FROM linked_counted
