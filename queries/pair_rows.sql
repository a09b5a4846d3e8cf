-- Question:   what does each denture bring to the comparison of habits for one outcome?
-- Unit:       one row per denture of outcome_rows
-- Parameters: none; {of_m} and {of_d} are the columns of pair_mixes and the same of linked_dentures; reads outcome_rows, pair_clinicians
-- Columns:    patient_no, clinician_no, upper, mix, y, share_e9 and every habit
-- Order:      none; readers group
CREATE OR REPLACE TEMP TABLE pair_rows AS
SELECT o.patient_no, c.clinician_no, d.arch = 'upper' AS upper, m.mix, o.y, o.share_e9, COLUMNS('^h_')
FROM outcome_rows o
JOIN linked_dentures d USING (denture_no)
JOIN pair_mixes m ON ROW({of_m}) = ROW({of_d})
JOIN pair_clinicians c ON c.clinician = d.clinician
