-- Question:   what does each denture with a measured value bring to the curve of one outcome?
-- Unit:       one row per denture of outcome_rows in which the value was recorded
-- Parameters: none; {value} is the column of the value, {of_m} and {of_d} the columns of pair_mixes and the same of
--             linked_dentures; reads outcome_rows, pair_mixes, pair_clinicians
-- Columns:    denture_no, patient_no, stratum (number of clinician and arch), upper, mix, value_e2 (hundredths of a mm), y, share_e9
-- Order:      none; readers group
CREATE OR REPLACE TEMP TABLE dose_rows AS
SELECT o.denture_no, o.patient_no, c.clinician_no * 2 + CAST(d.arch = 'upper' AS INTEGER) AS stratum, d.arch = 'upper' AS upper, m.mix,
       CAST(round(d.{value} * 100) AS INTEGER) AS value_e2, o.y, o.share_e9
FROM outcome_rows o
JOIN linked_dentures d USING (denture_no)
JOIN pair_mixes m ON ROW({of_m}) = ROW({of_d})
JOIN pair_clinicians c ON c.clinician = d.clinician
WHERE d.{value} IS NOT NULL
