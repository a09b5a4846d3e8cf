-- Question:   what does each denture with a measured value bring to the curve of one outcome?
-- Unit:       one row per denture in which the value was recorded and whose follow-up reached a day on which anything was expected
-- Parameters: none; the names of the value, of the set of columns of case mix and of the outcome are filled in; reads dose_dentures
-- Columns:    denture_no, patient_no, stratum (number of clinician and arch), upper, key (of the combination of case mix, as in
--             dose_mixes), value_e2 (hundredths of a mm), y, share_e9
-- Order:      none; readers group
CREATE OR REPLACE TEMP VIEW dose_rows AS
SELECT denture_no, patient_no, stratum, upper, {{.Set}} AS key, e2_{{.Value}} AS value_e2, y_{{.Outcome}} AS y, CAST(s_{{.Outcome}} AS BIGINT) AS share_e9
FROM dose_dentures
WHERE e2_{{.Value}} IS NOT NULL AND s_{{.Outcome}} IS NOT NULL
