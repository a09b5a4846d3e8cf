-- Question:   by what can delivered dentures be grouped, and how did each leave?
-- Unit:       one row per delivered denture
-- Parameters: none
-- Columns:    denture_no, patient_no, risk_days, died, and one column per dimension (NULL belongs to no group)
-- Order:      none; readers state their own
CREATE OR REPLACE TEMP VIEW cohort_wide AS
SELECT denture_no, patient_no, risk_days, end_reason = 'died' AS died,
       'all' AS everybody, arch, site, clinician, coalesce(CAST(ridge_class AS VARCHAR), 'not_recorded') AS ridge_class, quarter,
       band_freeway AS freeway, band_clearance AS clearance, band_seating AS seating, band_discomfort AS discomfort, band_display AS display,
       clinician || '|' || quarter AS clinician_quarter
FROM linked_dentures
