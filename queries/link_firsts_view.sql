-- Question:   when did each yes/no outcome first happen to a denture, in words?
-- Unit:       one row per denture and outcome that happened during follow-up (whatever the window)
-- Parameters: none
-- Columns:    outcome, denture_no, arch, day (days from the denture's own delivery, delivery day = 0)
-- Order:      none; readers state their own
CREATE OR REPLACE VIEW linked_firsts AS
SELECT CAST(outcome AS VARCHAR) AS outcome, denture_no, CASE denture_no % 2 WHEN 1 THEN 'upper' ELSE 'lower' END AS arch, day FROM linked_once
