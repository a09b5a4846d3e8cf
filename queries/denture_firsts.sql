-- Question:   when did each yes/no outcome first happen to a denture?
-- Unit:       one row per denture and outcome that happened during follow-up (whatever the window)
-- Parameters: none
-- Columns:    one whole number: that of the denture times 2^32, the outcome (its place among the codes of the linked table) times 2^24, and
--             the day (from delivery)
-- Order:      none; the reader sorts
SELECT CAST(denture_no AS BIGINT) * 4294967296 + CAST(enum_code(outcome) AS BIGINT) * 16777216 + day
FROM linked_once
