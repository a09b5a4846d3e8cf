-- Question:   which clinicians took records, and of how many dentures?
-- Unit:       one row per clinician
-- Parameters: none
-- Columns:    clinician, sites, cases, dentures (delivered)
-- Order:      clinician
SELECT clinician, string_agg(DISTINCT site, ' ' ORDER BY site) AS sites, count(DISTINCT case_id) AS cases, count(*) AS dentures
FROM linked_dentures GROUP BY clinician ORDER BY clinician
