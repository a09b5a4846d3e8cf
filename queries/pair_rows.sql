-- Question:   what does each denture bring to the comparison of habits for one outcome?
-- Unit:       one row per denture of outcome_rows
-- Parameters: none; the columns of pair_coded that the comparisons need come from the list; reads outcome_rows and pair_coded
-- Columns:    denture_no, patient_no, dentures, clinician_no, upper, the columns listed, y and share_e9
-- Order:      none; readers group
CREATE OR REPLACE TEMP TABLE pair_rows AS
SELECT c.denture_no, c.patient_no, c.dentures, c.clinician_no, c.upper{{range .}}, c.{{.}}{{end}}, o.y, o.share_e9
FROM outcome_rows o
JOIN pair_coded c USING (denture_no)
