-- Question:   to which groups does each denture belong?
-- Unit:       one row per denture and group
-- Parameters: none
-- Columns:    grp (number of dimension and code), dimension, code, arch, denture_no, patient_no, risk_days, end_reason
-- Order:      none; readers state their own
CREATE OR REPLACE TEMP TABLE group_rows AS
WITH wide AS (
    SELECT arch AS of_arch, denture_no, patient_no, risk_days, end_reason,
           'all' AS "all", arch, site, clinician, coalesce(CAST(ridge_class AS VARCHAR), 'not_recorded') AS ridge_class, quarter,
           band_freeway AS freeway, band_clearance AS clearance, band_seating AS seating, band_discomfort AS discomfort, band_display AS display
    FROM linked_dentures
)
SELECT CAST(dense_rank() OVER (ORDER BY dimension, code) AS INTEGER) AS grp,
       dimension, code, of_arch AS arch, denture_no, patient_no, risk_days, end_reason
FROM (UNPIVOT wide ON "all", arch, site, clinician, ridge_class, quarter, freeway, clearance, seating, discomfort, display
      INTO NAME dimension VALUE code)
