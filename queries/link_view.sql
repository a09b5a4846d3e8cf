-- Question:   what is linked to each delivered denture, in words?
-- Unit:       one row per delivered denture
-- Parameters: filled with the places of codes and habits
-- Columns:    keys, denture_no and patient_no (numbers for fast joins, which say nothing else), case mix, follow-up (days from delivery),
--             recorded values, bands, and one h_ column per habit: TRUE, FALSE, or NULL where it cannot be assessed
-- Order:      none; readers state their own
{{define "text"}}{{.Codes.Text (.In (print .Table ".codes"))}} AS {{.Column}}{{end -}}
CREATE OR REPLACE VIEW linked_dentures AS
SELECT case_id, CASE denture_no % 2 WHEN 1 THEN 'upper' ELSE 'lower' END AS arch, s.name AS site, w.name AS clinician, l.name AS lab, r.name AS records_on, denture_no, patient_no,
       CASE WHEN length(r.name) = 4 THEN r.name
            WHEN r.name LIKE '%Q%' THEN r.name
            ELSE r.name[1:4] || '-Q' || CAST((CAST(r.name[6:7] AS INTEGER) + 2) // 3 AS VARCHAR) END AS quarter,
       r.name[1:4] AS year,
       {{template "text" .place.age_band}},
       {{template "text" .place.sex}}, ridge_class,
       {{template "text" .place.prior_denture}},
       {{template "text" .place.course}},
       {{template "text" .place.operator}},
       delivered_day, end_day, end_day - delivered_day AS risk_days,
       {{template "text" .place.end_reason}},
       freeway_mm, vdr_mm, vdo_mm, lip_mm, display_target_mm, display_suggested_mm, display_target_mm - display_suggested_mm AS display_off_mm,
       clearance_min_mm, clearance_max_mm, palate_mm, tries,
       {{template "text" .place.technique}},
       {{template "text" .place.sized_by}},
       {{template "text" .place.vertical_basis}},
       {{template "text" .place.centric_method}},
       {{template "text" .place.band_freeway}},
       {{template "text" .place.band_clearance}},
       {{template "text" .place.band_seating}},
       {{template "text" .place.band_discomfort}},
       {{template "text" .place.band_touches}},
       {{template "text" .place.band_display}}
{{- range $w := .habits}}{{range .Habits}},
       CASE (c.{{$w.Name}} + d.{{$w.Name}}) >> {{.Shift}} & 3 WHEN 0 THEN FALSE WHEN 1 THEN TRUE END AS {{.Column}}
{{- end}}{{end}}
FROM linked_made d
JOIN linked_cases c ON c.case_no = d.denture_no - d.denture_no % 2
LEFT JOIN linked_names s ON s.no = site_no
LEFT JOIN linked_names w ON w.no = clinician_no
LEFT JOIN linked_names l ON l.no = lab_no
LEFT JOIN linked_names r ON r.no = records_no
