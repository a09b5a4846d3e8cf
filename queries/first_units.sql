-- Question:   on which day did each denture first have the outcome, die, or leave?
-- Unit:       one row per group and denture
-- Parameters: $1 outcome in linked_firsts, $2 last day of its window
-- Columns:    grp (as in group_rows), denture_no, patient_no, day (from delivery), kind (0 outcome, 1 death, 2 left)
-- Order:      none; readers state their own
-- The day after the window holds everybody who was followed beyond it, so that the last day of the
-- window still counts.
CREATE OR REPLACE TEMP TABLE first_units AS
SELECT g.grp, g.denture_no, g.patient_no,
       least(coalesce(f.day, g.risk_days), CAST($2 AS INTEGER) + 1) AS day,
       CASE WHEN coalesce(f.day, g.risk_days) > CAST($2 AS INTEGER) THEN 2
            WHEN f.day IS NOT NULL THEN 0 WHEN g.end_reason = 'died' THEN 1 ELSE 2 END AS kind
FROM group_rows g
LEFT JOIN linked_firsts f ON f.outcome = CAST($1 AS VARCHAR) AND f.denture_no = g.denture_no
