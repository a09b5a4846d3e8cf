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
WITH numbered AS MATERIALIZED ( -- an even number for each case; its upper denture gets the next odd one
    SELECT c.case_id, p.patient_no, b.denture_no + 2 * c.no AS case_no, s.no AS site_no, w.no AS clinician_no, l.no AS lab_no, r.no AS records_no,
           CAST(c.age_band AS {{.age_band}}) AS age_band, CAST(c.sex AS {{.sex}}) AS sex, c.ridge_class,
           CAST(c.prior_denture AS {{.prior_denture}}) AS prior_denture, CAST(c.course AS {{.course}}) AS course,
           CAST(c.operator AS {{.operator}}) AS operator, c.observed_to_day,
           CAST(coalesce(c.observed_end, 'unknown') AS {{.end_reason}}) AS end_reason, coalesce(h.takes_repeats, FALSE) AS takes_repeats
    FROM (SELECT *, row_number() OVER () AS no FROM due_cases) c
    JOIN linked_patients p USING (patient_key)
    LEFT JOIN linked_names s ON s.field = 'site' AND s.name = c.site
    LEFT JOIN linked_names w ON w.field = 'clinician' AND w.name = c.clinician
    LEFT JOIN linked_names l ON l.field = 'lab' AND l.name = c.lab
    LEFT JOIN linked_names r ON r.field = 'records_on' AND r.name = c.records_on
    LEFT JOIN link_houses h ON h.site = c.site
    CROSS JOIN link_base b
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
    JOIN numbered c USING (case_id)
    JOIN made_again m ON m.case_id = d.case_id AND m.arch = d.arch AND m.day >= d.delivered_day AND m.day <= c.observed_to_day
    GROUP BY d.case_id, d.arch
), recorded AS (
    SELECT case_id, coalesce(freeway_mm, vdr_mm - vdo_mm) AS freeway_mm, abs(freeway_mm - (vdr_mm - vdo_mm)) AS freeway_gap_mm, vdr_mm, vdo_mm,
           lip_mm, display_target_mm,
           -- Upper incisor display by lip length (Vig & Brundo 1978).
           CASE WHEN lip_mm < 10 OR lip_mm > 36 THEN NULL
                WHEN lip_mm <= 15 THEN 3.92 WHEN lip_mm <= 20 THEN 3.44 WHEN lip_mm <= 25 THEN 2.18
                WHEN lip_mm <= 30 THEN 0.93 WHEN lip_mm <= 36 THEN 0.25 END AS display_suggested_mm,
           CAST(coalesce(nullif(vertical_basis, 'unknown'), 'not_recorded') AS {{.vertical_basis}}) AS vertical_basis,
           CAST(coalesce(nullif(centric_method, 'unknown'), 'not_recorded') AS {{.centric_method}}) AS centric_method,
           CASE WHEN rest_denture_in <> 'unknown' THEN rest_denture_in = 'yes' END AS rest_denture_in, centric_takes
    FROM due_records
), tray AS (
    SELECT case_id, arch, clearance_min_mm, clearance_max_mm, clearance_max_mm - clearance_min_mm AS clearance_gap_mm, palate_mm, tries,
           CAST(coalesce(nullif(technique, 'unknown'), 'not_recorded') AS {{.technique}}) AS technique,
           CAST(coalesce(nullif(sized_by, 'unknown'), 'not_recorded') AS {{.sized_by}}) AS sized_by,
           CAST(coalesce(nullif(seating, 'unknown'), 'not_recorded') AS {{.band_seating}}) AS band_seating,
           CAST(coalesce(nullif(discomfort, 'unknown'), 'not_recorded') AS {{.band_discomfort}}) AS band_discomfort,
           -- The ridge comes first: a tray that rides on it is held off everything else.
           CAST(CASE WHEN touches IS NULL THEN 'not_recorded' WHEN list_contains(string_split(touches, '|'), 'ridge') THEN 'ridge'
                WHEN list_contains(string_split(touches, '|'), 'tuberosity') THEN 'tuberosity'
                WHEN list_contains(string_split(touches, '|'), 'soft_palate') THEN 'soft_palate' WHEN touches = 'none' THEN 'none' ELSE 'other' END AS {{.band_touches}}) AS band_touches,
           list_contains(string_split(touches, '|'), 'ridge') AS on_ridge, list_contains(string_split(touches, '|'), 'tuberosity') AS on_tuberosity,
           list_contains(string_split(touches, '|'), 'soft_palate') AS on_soft_palate
    FROM due_trays
), followed AS (
    SELECT d.case_id, d.arch, d.arch = 'upper' AS upper, c.* EXCLUDE (case_id, case_no, observed_to_day, end_reason), c.case_no + CAST(d.arch = 'upper' AS INTEGER) AS denture_no,
           d.delivered_day, CASE WHEN d.remount <> 'unknown' THEN d.remount = 'no' END AS no_remount,
           least(c.observed_to_day, coalesce(m.day, c.observed_to_day)) AS end_day, CASE WHEN m.day IS NOT NULL THEN CAST('remade' AS {{.end_reason}}) ELSE c.end_reason END AS end_reason
    FROM due_dentures d
    JOIN numbered c USING (case_id)
    LEFT JOIN own_remake m USING (case_id, arch)
    WHERE d.delivered_day IS NOT NULL AND d.delivered_day <= c.observed_to_day
), worked_out AS (
    SELECT f.case_id, CAST(f.arch AS {{.arch}}) AS arch, site_no, clinician_no, lab_no, records_no,
           CAST(f.denture_no AS INTEGER) AS denture_no, f.patient_no,
           age_band, sex, ridge_class, prior_denture, course, operator,
           delivered_day, end_day, end_day - delivered_day AS risk_days, end_reason,
           freeway_mm, vdr_mm, vdo_mm, lip_mm, display_target_mm, display_suggested_mm,
           display_target_mm - display_suggested_mm AS display_off_mm, clearance_min_mm, clearance_max_mm, palate_mm, tries,
           coalesce(technique, CAST('not_recorded' AS {{.technique}})) AS technique, coalesce(sized_by, CAST('not_recorded' AS {{.sized_by}})) AS sized_by,
           coalesce(vertical_basis, CAST('not_recorded' AS {{.vertical_basis}})) AS vertical_basis, coalesce(centric_method, CAST('not_recorded' AS {{.centric_method}})) AS centric_method,
           CAST(CASE WHEN freeway_mm IS NULL THEN 'not_recorded' WHEN freeway_mm < freeway_low_mm THEN 'low'
                WHEN freeway_mm > freeway_high_mm THEN 'high' ELSE 'usual' END AS {{.band_freeway}}) AS band_freeway,
           -- More than the upper setting comes first: a bulky tray is nearly always uneven as well.
           CAST(CASE WHEN clearance_min_mm IS NULL OR clearance_max_mm IS NULL THEN 'not_recorded'
                WHEN clearance_max_mm > clearance_high_mm THEN 'bulky' WHEN clearance_min_mm < clearance_low_mm THEN 'tight'
                WHEN clearance_gap_mm > clearance_uneven_mm THEN 'uneven' ELSE 'within' END AS {{.band_clearance}}) AS band_clearance,
           coalesce(band_seating, CAST('not_recorded' AS {{.band_seating}})) AS band_seating, coalesce(band_discomfort, CAST('not_recorded' AS {{.band_discomfort}})) AS band_discomfort,
           coalesce(band_touches, CAST('not_recorded' AS {{.band_touches}})) AS band_touches,
           CAST(CASE WHEN NOT upper THEN NULL WHEN display_target_mm IS NULL OR display_suggested_mm IS NULL THEN 'not_recorded'
                WHEN display_target_mm - display_suggested_mm > display_far_mm THEN 'more'
                WHEN display_suggested_mm - display_target_mm > display_far_mm THEN 'less' ELSE 'near' END AS {{.band_display}}) AS band_display,
           freeway_mm < freeway_low_mm AS h_freeway_low,
           freeway_mm > freeway_high_mm AS h_freeway_high,
           freeway_mm < 2 OR freeway_mm > 4 AS h_freeway_not_2_4,
           CASE WHEN prior_denture = 'unsound' AND vertical_basis <> 'not_recorded' THEN vertical_basis = 'existing_denture' END AS h_vertical_from_unsound,
           CASE WHEN vertical_basis <> 'not_recorded' THEN vertical_basis = 'existing_denture' AND vdr_mm IS NULL END AS h_vertical_copied_rest_unmeasured,
           freeway_gap_mm > adds_up_mm AS h_does_not_add_up,
           vdo_mm % 5 = 0 AS h_reading_ends_0_5,
           rest_denture_in AS h_rest_denture_in,
           CASE WHEN takes_repeats THEN o.most_takes = 1 END AS h_one_reading,
           o.apart_mm > repeats_apart_mm AS h_repeats_apart,
           clearance_max_mm > clearance_high_mm AS h_clearance_over_2,
           clearance_min_mm < clearance_low_mm AS h_clearance_under_1,
           clearance_gap_mm > clearance_uneven_mm AS h_clearance_uneven,
           CASE WHEN band_seating <> 'not_recorded' THEN band_seating = 'partial' END AS h_partial_seating_used,
           CASE WHEN band_discomfort <> 'not_recorded' THEN band_discomfort = 'yes' END AS h_discomfort_used,
           CASE WHEN upper THEN on_soft_palate END AS h_touches_soft_palate,
           CASE WHEN upper THEN on_tuberosity END AS h_touches_tuberosity,
           on_ridge AS h_touches_ridge,
           CASE WHEN upper THEN palate_mm > palate_bulk_mm END AS h_palate_bulk,
           tries = 1 AS h_first_tray_used,
           CASE WHEN sized_by <> 'not_recorded' THEN sized_by = 'eye' END AS h_sized_by_eye,
           CASE WHEN prior_denture IN ('sound', 'unsound') AND sized_by <> 'not_recorded' THEN sized_by <> 'existing_denture' END AS h_old_denture_unused,
           CASE WHEN technique <> 'not_recorded' THEN technique = 'single_phase' END AS h_single_phase,
           clearance_min_mm IS NULL OR clearance_max_mm IS NULL AS h_clearance_not_recorded,
           lip_mm IS NULL AS h_lip_not_recorded,
           abs(display_target_mm - display_suggested_mm) > display_far_mm AS h_display_far,
           centric_takes = 1 AS h_one_centric_take,
           CASE WHEN centric_method <> 'not_recorded' THEN centric_method = 'swallow' END AS h_centric_by_swallow,
           no_remount AS h_no_remount,
           vdr_mm IS NULL AS h_rest_not_recorded,
           delivered_day > late_delivery_days AS h_late_delivery
    FROM followed f
    LEFT JOIN recorded USING (case_id)
    LEFT JOIN tray USING (case_id, arch)
    LEFT JOIN linked_repeats o USING (case_id)
    CROSS JOIN link_settings
)
SELECT * EXCLUDE ({{range $i, $w := .habits}}{{range $j, $h := $w.Habits}}{{if or $i $j}}, {{end}}{{.Column}}{{end}}{{end}})
{{- range .habits}},
       CAST({{range $j, $h := .Habits}}{{if $j}} + {{end}}CASE WHEN {{.Column}} IS NULL THEN {{.Unknown}} WHEN {{.Column}} THEN {{.Yes}} ELSE 0 END{{end}} AS BIGINT) AS {{.Name}}
{{- end}}
FROM worked_out
