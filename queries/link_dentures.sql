-- Question:   what was recorded for each delivered denture, and how long was it followed?
-- Unit:       one row per delivered denture (one arch of one case) seen on or after its delivery day
-- Parameters: filled with the types of the columns that hold codes and the places of habits; thresholds come from link_settings (one row).
--             Reads the due_ views, linked_patients, linked_names, linked_repeats, link_houses and link_base
-- Columns:    as in link_view, which turns codes and numbers of names back into text and takes habits apart
-- Order:      none; readers state their own
-- Follow-up ends at the earliest of the end of observation (death included) and the denture's own
-- remake. A remake known only from a later case (remake_of) is dated when both cases carry a full
-- date of records; otherwise it cannot be dated and observation ends as the old case says.
-- Codes and names are kept as numbers, and all habits together in a whole number or two: what writing takes is the number of columns, and
-- text takes many times as long. A habit adds nothing to its number where it is FALSE, its place value where TRUE, twice that where NULL.
-- Whatever follows from a case and its record, or from a tray, is worked out and packed before dentures are joined to it: so there are
-- half as many rows to do, texts are compared where they are read, and what joins hold is narrow.
WITH recorded AS (
    SELECT case_id, coalesce(freeway_mm, vdr_mm - vdo_mm) AS freeway_mm, abs(freeway_mm - (vdr_mm - vdo_mm)) AS freeway_gap_mm, vdr_mm, vdo_mm,
           lip_mm, display_target_mm,
           -- Upper incisor display by lip length (Vig & Brundo 1978).
           CASE WHEN lip_mm < 10 OR lip_mm > 36 THEN NULL
                WHEN lip_mm <= 15 THEN 3.92 WHEN lip_mm <= 20 THEN 3.44 WHEN lip_mm <= 25 THEN 2.18
                WHEN lip_mm <= 30 THEN 0.93 WHEN lip_mm <= 36 THEN 0.25 END AS display_suggested_mm,
           nullif(vertical_basis, 'unknown') AS basis, nullif(centric_method, 'unknown') AS centric,
           nullif(rest_denture_in, 'unknown') = 'yes' AS rest_denture_in, centric_takes
    FROM due_records
), told AS (
    SELECT c.case_id, p.patient_no, b.denture_no + 2 * c.no AS case_no, s.no AS site_no, w.no AS clinician_no, l.no AS lab_no, n.no AS records_no,
           {{.age_band.Of "c.age_band"}} AS age_band, {{.sex.Of "c.sex"}} AS sex, c.ridge_class,
           {{.prior_denture.Of "c.prior_denture"}} AS prior_denture, {{.course.Of "c.course"}} AS course, {{.operator.Of "c.operator"}} AS operator,
           c.observed_to_day, {{.end_reason.Or "c.observed_end" "unknown"}} AS end_reason,
           r.freeway_mm, r.vdr_mm, r.vdo_mm, r.lip_mm, r.display_target_mm, r.display_suggested_mm,
           r.display_target_mm - r.display_suggested_mm AS display_off_mm,
           {{.vertical_basis.Or "r.basis" "not_recorded"}} AS vertical_basis, {{.centric_method.Or "r.centric" "not_recorded"}} AS centric_method,
           CASE WHEN freeway_mm IS NULL THEN CAST('not_recorded' AS {{.band_freeway}}) WHEN freeway_mm < freeway_low_mm THEN CAST('low' AS {{.band_freeway}})
                WHEN freeway_mm > freeway_high_mm THEN CAST('high' AS {{.band_freeway}}) ELSE CAST('usual' AS {{.band_freeway}}) END AS band_freeway,
           CASE WHEN display_target_mm - display_suggested_mm IS NULL THEN CAST('not_recorded' AS {{.band_display}})
                WHEN display_target_mm - display_suggested_mm > display_far_mm THEN CAST('more' AS {{.band_display}})
                WHEN display_suggested_mm - display_target_mm > display_far_mm THEN CAST('less' AS {{.band_display}}) ELSE CAST('near' AS {{.band_display}}) END AS band_display,
           c.prior_denture IN ('sound', 'unsound') AS old_denture,
           r.freeway_mm < freeway_low_mm AS h_freeway_low,
           r.freeway_mm > freeway_high_mm AS h_freeway_high,
           r.freeway_mm < 2 OR r.freeway_mm > 4 AS h_freeway_not_2_4,
           CASE WHEN c.prior_denture = 'unsound' THEN r.basis = 'existing_denture' END AS h_vertical_from_unsound,
           CASE WHEN r.basis IS NOT NULL THEN r.basis = 'existing_denture' AND r.vdr_mm IS NULL END AS h_vertical_copied_rest_unmeasured,
           r.freeway_gap_mm > adds_up_mm AS h_does_not_add_up,
           r.vdo_mm % 5 = 0 AS h_reading_ends_0_5,
           r.rest_denture_in AS h_rest_denture_in,
           CASE WHEN h.takes_repeats THEN o.most_takes = 1 END AS h_one_reading,
           o.apart_mm > repeats_apart_mm AS h_repeats_apart,
           r.lip_mm IS NULL AS h_lip_not_recorded,
           abs(r.display_target_mm - r.display_suggested_mm) > display_far_mm AS h_display_far,
           r.centric_takes = 1 AS h_one_centric_take,
           r.centric = 'swallow' AS h_centric_by_swallow,
           r.vdr_mm IS NULL AS h_rest_not_recorded
    FROM (SELECT *, row_number() OVER () AS no FROM due_cases) c
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
), of_case AS MATERIALIZED ( -- an even number for each case; its upper denture gets the next odd one
    SELECT COLUMNS(c -> c[1:2] <> 'h_')
    {{- range .habits}},
           CAST(0{{range .Habits}}{{if eq .Of "case"}} + CASE WHEN {{.Column}} THEN {{.Yes}} WHEN {{.Column}} IS NULL THEN {{.Unknown}} ELSE 0 END{{end}}{{end}} AS BIGINT) AS {{.Name}}
    {{- end}}
    FROM told
), tray AS (
    SELECT case_id, arch, clearance_min_mm, clearance_max_mm, clearance_max_mm - clearance_min_mm AS clearance_gap_mm, palate_mm, tries, arch = 'upper' AS upper,
           nullif(technique, 'unknown') AS technique, nullif(sized_by, 'unknown') AS sized_by, nullif(seating, 'unknown') AS seating, nullif(discomfort, 'unknown') AS discomfort,
           touches, string_split(touches, '|') AS places
    FROM due_trays
), tried AS (
    SELECT case_id, arch, clearance_min_mm, clearance_max_mm, palate_mm, tries,
           {{.technique.Or "technique" "not_recorded"}} AS technique, {{.sized_by.Or "sized_by" "not_recorded"}} AS sized_by,
           {{.band_seating.Or "seating" "not_recorded"}} AS band_seating, {{.band_discomfort.Or "discomfort" "not_recorded"}} AS band_discomfort,
           -- The ridge comes first: a tray that rides on it is held off everything else.
           CASE WHEN touches IS NULL THEN CAST('not_recorded' AS {{.band_touches}}) WHEN list_contains(places, 'ridge') THEN CAST('ridge' AS {{.band_touches}})
                WHEN list_contains(places, 'tuberosity') THEN CAST('tuberosity' AS {{.band_touches}})
                WHEN list_contains(places, 'soft_palate') THEN CAST('soft_palate' AS {{.band_touches}}) WHEN touches = 'none' THEN CAST('none' AS {{.band_touches}})
                ELSE CAST('other' AS {{.band_touches}}) END AS band_touches,
           -- More than the upper setting comes first: a bulky tray is nearly always uneven as well.
           CASE WHEN clearance_gap_mm IS NULL THEN CAST('not_recorded' AS {{.band_clearance}})
                WHEN clearance_max_mm > clearance_high_mm THEN CAST('bulky' AS {{.band_clearance}}) WHEN clearance_min_mm < clearance_low_mm THEN CAST('tight' AS {{.band_clearance}})
                WHEN clearance_gap_mm > clearance_uneven_mm THEN CAST('uneven' AS {{.band_clearance}}) ELSE CAST('within' AS {{.band_clearance}}) END AS band_clearance,
           sized_by <> 'existing_denture' AS sized_otherwise,
           clearance_max_mm > clearance_high_mm AS h_clearance_over_2,
           clearance_min_mm < clearance_low_mm AS h_clearance_under_1,
           clearance_gap_mm > clearance_uneven_mm AS h_clearance_uneven,
           seating = 'partial' AS h_partial_seating_used,
           discomfort = 'yes' AS h_discomfort_used,
           CASE WHEN upper THEN list_contains(places, 'soft_palate') END AS h_touches_soft_palate,
           CASE WHEN upper THEN list_contains(places, 'tuberosity') END AS h_touches_tuberosity,
           list_contains(places, 'ridge') AS h_touches_ridge,
           CASE WHEN upper THEN palate_mm > palate_bulk_mm END AS h_palate_bulk,
           tries = 1 AS h_first_tray_used,
           sized_by = 'eye' AS h_sized_by_eye,
           technique = 'single_phase' AS h_single_phase
    FROM tray
    CROSS JOIN link_settings
), of_tray AS (
    SELECT COLUMNS(c -> c[1:2] <> 'h_')
    {{- range .habits}},
           CAST(0{{range .Habits}}{{if eq .Of "tray"}} + CASE WHEN {{.Column}} THEN {{.Yes}} WHEN {{.Column}} IS NULL THEN {{.Unknown}} ELSE 0 END{{end}}{{end}} AS BIGINT) AS {{.Name}}
    {{- end}}
    FROM tried
), pointed AS (
    SELECT o.case_id, n.arch,
           date_diff('day', strptime(o.records_on, '%Y-%m-%d'), strptime(c.records_on, '%Y-%m-%d')) + n.delivered_day AS day
    FROM cases c
    JOIN due_cases o ON o.case_id = c.remake_of
    JOIN dentures n ON n.case_id = c.case_id
    WHERE c.remake_of IS NOT NULL AND n.delivered_day IS NOT NULL AND length(c.records_on) = 10 AND length(o.records_on) = 10
), made_again AS (
    SELECT case_id, arch, day FROM due_remakes WHERE scope = 'remake'
    UNION ALL
    SELECT case_id, arch, day FROM pointed
), own_remake AS (
    SELECT d.case_id, d.arch, CAST(min(m.day) AS INTEGER) AS day
    FROM due_dentures d
    JOIN of_case c USING (case_id)
    JOIN made_again m ON m.case_id = d.case_id AND m.arch = d.arch AND m.day >= d.delivered_day AND m.day <= c.observed_to_day
    GROUP BY d.case_id, d.arch
), made AS ( -- narrow on both sides, so that it does not matter which of them a join holds
    SELECT d.case_id, d.arch = 'upper' AS upper, d.delivered_day, nullif(d.remount, 'unknown') = 'no' AS h_no_remount, m.day AS remade_day, t.* EXCLUDE (case_id, arch)
    FROM due_dentures d
    LEFT JOIN own_remake m USING (case_id, arch)
    LEFT JOIN of_tray t USING (case_id, arch)
    WHERE d.delivered_day IS NOT NULL
), followed AS (
    SELECT c.case_id, CASE WHEN d.upper THEN CAST('upper' AS {{.arch}}) ELSE CAST('lower' AS {{.arch}}) END AS arch, site_no, clinician_no, lab_no, records_no,
           CAST(c.case_no + CAST(d.upper AS INTEGER) AS INTEGER) AS denture_no, c.patient_no,
           age_band, sex, ridge_class, prior_denture, course, operator,
           delivered_day, least(c.observed_to_day, d.remade_day) AS end_day, least(c.observed_to_day, d.remade_day) - delivered_day AS risk_days,
           CASE WHEN d.remade_day IS NULL THEN c.end_reason ELSE CAST('remade' AS {{.end_reason}}) END AS end_reason,
           freeway_mm, vdr_mm, vdo_mm, lip_mm, display_target_mm, display_suggested_mm, display_off_mm, clearance_min_mm, clearance_max_mm, palate_mm, tries,
           coalesce(technique, CAST('not_recorded' AS {{.technique}})) AS technique, coalesce(sized_by, CAST('not_recorded' AS {{.sized_by}})) AS sized_by,
           vertical_basis, centric_method, band_freeway, coalesce(band_clearance, CAST('not_recorded' AS {{.band_clearance}})) AS band_clearance,
           coalesce(band_seating, CAST('not_recorded' AS {{.band_seating}})) AS band_seating, coalesce(band_discomfort, CAST('not_recorded' AS {{.band_discomfort}})) AS band_discomfort,
           coalesce(band_touches, CAST('not_recorded' AS {{.band_touches}})) AS band_touches, CASE WHEN d.upper THEN band_display END AS band_display,
           clearance_min_mm IS NULL OR clearance_max_mm IS NULL AS h_clearance_not_recorded,
           CASE WHEN old_denture THEN sized_otherwise END AS h_old_denture_unused,
           h_no_remount,
           delivered_day > late_delivery_days AS h_late_delivery
           {{- range .habits}},
           c.{{.Name}} + coalesce(d.{{.Name}}, 0{{range .Habits}}{{if eq .Of "tray"}} + {{.Unknown}}{{end}}{{end}}) AS packed_{{.Name}}
           {{- end}}
    FROM made d
    JOIN of_case c ON c.case_id = d.case_id AND d.delivered_day <= c.observed_to_day
    CROSS JOIN link_settings
)
SELECT COLUMNS(c -> c[1:2] <> 'h_' AND c NOT LIKE 'packed_%')
{{- range .habits}},
       CAST(packed_{{.Name}}{{range .Habits}}{{if eq .Of "denture"}} + CASE WHEN {{.Column}} THEN {{.Yes}} WHEN {{.Column}} IS NULL THEN {{.Unknown}} ELSE 0 END{{end}}{{end}} AS BIGINT) AS {{.Name}}
{{- end}}
FROM followed
