-- Question:   how many events of one outcome did each denture have, and what share of those expected by the end of the window had fallen due?
-- Unit:       one row per delivered denture whose follow-up reached a day on which anything was expected
-- Parameters: none; the outcome's name is filled in; reads outcome_sheet
-- Columns:    denture_no, patient_no, y (events in the window), share_e9 (share, in billionths, so that its sums are exact)
-- Order:      none; readers state their own
CREATE OR REPLACE TEMP VIEW outcome_rows AS
SELECT denture_no, patient_no, y_{{.}} AS y, CAST(s_{{.}} AS BIGINT) AS share_e9
FROM outcome_sheet
WHERE s_{{.}} IS NOT NULL
