-- Question:   what is linked to each delivered denture, in words?
-- Unit:       one row per delivered denture
-- Parameters: filled with the places of habits
-- Columns:    keys, denture_no and patient_no (numbers for fast joins, which say nothing else), case mix, follow-up (days from delivery),
--             recorded values, bands, and one h_ column per habit: TRUE, FALSE, or NULL where it cannot be assessed
-- Order:      none; readers state their own
CREATE OR REPLACE VIEW linked_dentures AS
SELECT case_id, CAST(arch AS VARCHAR) AS arch, s.name AS site, w.name AS clinician, l.name AS lab, r.name AS records_on, denture_no, patient_no,
       CASE WHEN length(r.name) = 4 THEN r.name
            WHEN r.name LIKE '%Q%' THEN r.name
            ELSE r.name[1:4] || '-Q' || CAST((CAST(r.name[6:7] AS INTEGER) + 2) // 3 AS VARCHAR) END AS quarter,
       r.name[1:4] AS year,
       CAST(age_band AS VARCHAR) AS age_band, CAST(sex AS VARCHAR) AS sex, ridge_class, CAST(prior_denture AS VARCHAR) AS prior_denture,
       CAST(course AS VARCHAR) AS course, CAST(operator AS VARCHAR) AS operator,
       delivered_day, end_day, risk_days, CAST(end_reason AS VARCHAR) AS end_reason,
       freeway_mm, vdr_mm, vdo_mm, lip_mm, display_target_mm, display_suggested_mm, display_off_mm, clearance_min_mm, clearance_max_mm, palate_mm, tries,
       CAST(technique AS VARCHAR) AS technique, CAST(sized_by AS VARCHAR) AS sized_by, CAST(vertical_basis AS VARCHAR) AS vertical_basis,
       CAST(centric_method AS VARCHAR) AS centric_method, CAST(COLUMNS('^band_') AS VARCHAR)
{{- range $w := .habits}}{{range .Habits}},
       CASE {{$w.Name}} >> {{.Shift}} & 3 WHEN 0 THEN FALSE WHEN 1 THEN TRUE END AS {{.Column}}
{{- end}}{{end}}
FROM linked_coded
LEFT JOIN linked_names s ON s.no = site_no
LEFT JOIN linked_names w ON w.no = clinician_no
LEFT JOIN linked_names l ON l.no = lab_no
LEFT JOIN linked_names r ON r.no = records_no
