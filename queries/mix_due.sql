-- Question:   how many events did each denture have, and what share of those expected had fallen due?
-- Unit:       one row per delivered denture
-- Parameters: none; reads mix_rows and outcome_rows
-- Columns:    patient_no, pattern, cell, y (events), share_e9 (billionths); both 0 where nothing was due yet
-- Order:      none; readers state their own
CREATE OR REPLACE TEMP TABLE mix_due AS
SELECT m.patient_no, m.pattern, m.cell, coalesce(o.y, 0) AS y, coalesce(o.share_e9, 0) AS share_e9
FROM mix_rows m
LEFT JOIN outcome_rows o USING (denture_no)
