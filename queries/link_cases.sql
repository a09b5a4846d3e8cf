-- Question:   what was recorded for each case?
-- Unit:       one row per case to be linked
-- Parameters: filled with codes and the places of codes and habits; thresholds come from link_settings (one row). Reads the due_ views,
--             linked_patients, linked_names, linked_repeats, link_houses and link_base
-- Columns:    case_no (even; its upper denture has the next odd number), case_id, patient_no, numbers of names, observed_to_day, what was
--             measured, codes and habits. Text is given back by link_view
-- Order:      none; readers state their own
-- Codes and names are kept as numbers, and all codes, and all habits, together in one: what writing takes is the number of columns, and
-- text takes many times as long. A habit adds nothing to its number where it is FALSE, its place value where TRUE, twice that where NULL.
-- What a case says is kept once, and not with each of its dentures.
-- Codes of the case are packed before anything is joined to it, so that joins hold little.
WITH coded AS (
    SELECT case_id, patient_key, site, clinician, lab, records_on, observed_to_day, ridge_class, row_number() OVER () AS no,
           {{.age_band.Of "age_band"}} AS age_band, {{.sex.Of "sex"}} AS sex, {{.prior_denture.Of "prior_denture"}} AS prior_denture,
           {{.course.Of "course"}} AS course, {{.operator.Of "operator"}} AS operator, {{.observed_end.Or "observed_end" "unknown"}} AS observed_end
    FROM due_cases
), packed AS (
    SELECT * EXCLUDE (age_band, sex, prior_denture, course, operator, observed_end),
           CAST(0{{range .coded}}{{if eq .Of "case"}} + CAST({{.Column}} AS BIGINT) * {{.One}}{{end}}{{end}} AS BIGINT) AS codes
    FROM coded
), recorded AS (
    SELECT case_id, coalesce(freeway_mm, vdr_mm - vdo_mm) AS freeway_mm, abs(freeway_mm - (vdr_mm - vdo_mm)) AS freeway_gap_mm, vdr_mm, vdo_mm,
           lip_mm, display_target_mm,
           -- Upper incisor display by lip length (Vig & Brundo 1978).
           CASE WHEN lip_mm < 10 OR lip_mm > 36 THEN NULL
                WHEN lip_mm <= 15 THEN 3.92 WHEN lip_mm <= 20 THEN 3.44 WHEN lip_mm <= 25 THEN 2.18
                WHEN lip_mm <= 30 THEN 0.93 WHEN lip_mm <= 36 THEN 0.25 END AS display_suggested_mm,
           {{.vertical_basis.Or "vertical_basis" "not_recorded"}} AS vertical_basis, {{.centric_method.Or "centric_method" "not_recorded"}} AS centric_method,
           nullif(rest_denture_in, 'unknown') = 'yes' AS rest_denture_in, centric_takes
    FROM due_records
), told AS (
    SELECT c.case_id, b.case_no + 2 * c.no AS case_no, p.patient_no, s.no AS site_no, w.no AS clinician_no, l.no AS lab_no, n.no AS records_no,
           c.observed_to_day, c.ridge_class, c.codes AS codes_of_case,
           r.freeway_mm, r.vdr_mm, r.vdo_mm, r.lip_mm, r.display_target_mm, r.display_suggested_mm,
           coalesce(r.vertical_basis, {{.vertical_basis.No "not_recorded"}}) AS vertical_basis,
           coalesce(r.centric_method, {{.centric_method.No "not_recorded"}}) AS centric_method,
           CASE WHEN r.freeway_mm IS NULL THEN {{.band_freeway.No "not_recorded"}} WHEN r.freeway_mm < freeway_low_mm THEN {{.band_freeway.No "low"}}
                WHEN r.freeway_mm > freeway_high_mm THEN {{.band_freeway.No "high"}} ELSE {{.band_freeway.No "usual"}} END AS band_freeway,
           r.freeway_mm < freeway_low_mm AS h_freeway_low,
           r.freeway_mm > freeway_high_mm AS h_freeway_high,
           r.freeway_mm < 2 OR r.freeway_mm > 4 AS h_freeway_not_2_4,
           CASE WHEN {{.place.prior_denture.In "c.codes"}} = {{.prior_denture.No "unsound"}} THEN nullif(r.vertical_basis, {{.vertical_basis.No "not_recorded"}}) = {{.vertical_basis.No "existing_denture"}} END AS h_vertical_from_unsound,
           CASE WHEN r.vertical_basis <> {{.vertical_basis.No "not_recorded"}} THEN r.vertical_basis = {{.vertical_basis.No "existing_denture"}} AND r.vdr_mm IS NULL END AS h_vertical_copied_rest_unmeasured,
           r.freeway_gap_mm > adds_up_mm AS h_does_not_add_up,
           r.vdo_mm % 5 = 0 AS h_reading_ends_0_5,
           r.rest_denture_in AS h_rest_denture_in,
           CASE WHEN h.takes_repeats THEN o.most_takes = 1 END AS h_one_reading,
           o.apart_mm > repeats_apart_mm AS h_repeats_apart,
           r.lip_mm IS NULL AS h_lip_not_recorded,
           abs(r.display_target_mm - r.display_suggested_mm) > display_far_mm AS h_display_far,
           r.centric_takes = 1 AS h_one_centric_take,
           nullif(r.centric_method, {{.centric_method.No "not_recorded"}}) = {{.centric_method.No "swallow"}} AS h_centric_by_swallow,
           r.vdr_mm IS NULL AS h_rest_not_recorded
    FROM packed c
    JOIN linked_patients p USING (patient_key)
    LEFT JOIN linked_names s ON s.field = 'site' AND s.name = c.site
    LEFT JOIN linked_names w ON w.field = 'clinician' AND w.name = c.clinician
    LEFT JOIN linked_names l ON l.field = 'lab' AND l.name = c.lab
    LEFT JOIN linked_names n ON n.field = 'records_on' AND n.name = c.records_on
    LEFT JOIN link_houses h ON h.site = c.site
    LEFT JOIN recorded r ON r.case_id = c.case_id
    LEFT JOIN linked_repeats o ON o.case_id = c.case_id
    CROSS JOIN link_base b
    CROSS JOIN link_settings
)
SELECT CAST(case_no AS INTEGER) AS case_no, case_id, patient_no, site_no, clinician_no, lab_no, records_no, observed_to_day, ridge_class,
       freeway_mm, vdr_mm, vdo_mm, lip_mm, display_target_mm, display_suggested_mm,
       CAST(codes_of_case{{range .coded}}{{if eq .Of "record"}} + CAST({{.Column}} AS BIGINT) * {{.One}}{{end}}{{end}} AS BIGINT) AS codes
{{- range .habits}},
       CAST(0{{range .Habits}}{{if eq .Of "case"}} + CASE WHEN {{.Column}} THEN {{.Yes}} WHEN {{.Column}} IS NULL THEN {{.Unknown}} ELSE 0 END{{end}}{{end}} AS BIGINT) AS {{.Name}}
{{- end}}
FROM told
