-- Question:   which pattern of case mix and which cell does each delivered denture belong to?
-- Unit:       one row per delivered denture
-- Parameters: none; reads mix_wide, mix_levels and mix_cells
-- Columns:    denture_no, patient_no, pattern (as in mix_levels), cell (as in mix_cells)
-- Order:      none; readers state their own
CREATE OR REPLACE TEMP TABLE mix_rows AS
SELECT w.denture_no, w.patient_no, l.pattern, c.cell
FROM mix_wide w
JOIN mix_levels l USING (arch, ridge_class, age_band, sex, prior_denture, course, operator)
JOIN mix_cells c USING (site, clinician, lab, period)
