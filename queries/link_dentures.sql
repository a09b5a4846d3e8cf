-- Question:   what was recorded for each delivered denture, and how long was it followed?
-- Unit:       one row per delivered denture (one arch of one case) seen on or after its delivery day, of the cases just linked
-- Parameters: filled with codes and the places of codes and habits; thresholds come from link_settings (one row). Reads the due_ views,
--             linked_cases and link_base
-- Columns:    denture_no (that of its case, and one more for an upper denture), delivered_day, end_day, relined_day (first reline or rebase
--             during follow-up, in days from delivery), what was measured at the tray, codes and habits, to which those of the case in
--             linked_cases are to be added
-- Order:      none; readers state their own
-- Follow-up ends at the earliest of the end of observation (death included) and the denture's own
-- remake. A remake known only from a later case (remake_of) is dated when both cases carry a full
-- date of records; otherwise it cannot be dated and observation ends as the old case says.
-- Whatever follows from a tray is worked out and packed before dentures are joined to it: texts are compared where they are read, and what
-- joins hold is narrow.
WITH tray AS (
    SELECT case_id, arch = 'upper' AS upper, clearance_min_mm, clearance_max_mm, clearance_max_mm - clearance_min_mm AS clearance_gap_mm, palate_mm, tries,
           {{.technique.Or "technique" "not_recorded"}} AS technique, {{.sized_by.Or "sized_by" "not_recorded"}} AS sized_by,
           {{.band_seating.Or "seating" "not_recorded"}} AS band_seating, {{.band_discomfort.Or "discomfort" "not_recorded"}} AS band_discomfort,
           touches, string_split(touches, '|') AS places
    FROM due_trays
), tried AS (
    SELECT case_id, upper, clearance_min_mm, clearance_max_mm, palate_mm, tries, technique, sized_by, band_seating, band_discomfort,
           -- The ridge comes first: a tray that rides on it is held off everything else.
           CASE WHEN touches IS NULL THEN {{.band_touches.No "not_recorded"}} WHEN list_contains(places, 'ridge') THEN {{.band_touches.No "ridge"}}
                WHEN list_contains(places, 'tuberosity') THEN {{.band_touches.No "tuberosity"}}
                WHEN list_contains(places, 'soft_palate') THEN {{.band_touches.No "soft_palate"}} WHEN touches = 'none' THEN {{.band_touches.No "none"}}
                ELSE {{.band_touches.No "other"}} END AS band_touches,
           -- More than the upper setting comes first: a bulky tray is nearly always uneven as well.
           CASE WHEN clearance_gap_mm IS NULL THEN {{.band_clearance.No "not_recorded"}}
                WHEN clearance_max_mm > clearance_high_mm THEN {{.band_clearance.No "bulky"}} WHEN clearance_min_mm < clearance_low_mm THEN {{.band_clearance.No "tight"}}
                WHEN clearance_gap_mm > clearance_uneven_mm THEN {{.band_clearance.No "uneven"}} ELSE {{.band_clearance.No "within"}} END AS band_clearance,
           clearance_max_mm > clearance_high_mm AS h_clearance_over_2,
           clearance_min_mm < clearance_low_mm AS h_clearance_under_1,
           clearance_gap_mm > clearance_uneven_mm AS h_clearance_uneven,
           CASE WHEN band_seating <> {{.band_seating.No "not_recorded"}} THEN band_seating = {{.band_seating.No "partial"}} END AS h_partial_seating_used,
           CASE WHEN band_discomfort <> {{.band_discomfort.No "not_recorded"}} THEN band_discomfort = {{.band_discomfort.No "yes"}} END AS h_discomfort_used,
           CASE WHEN upper THEN list_contains(places, 'soft_palate') END AS h_touches_soft_palate,
           CASE WHEN upper THEN list_contains(places, 'tuberosity') END AS h_touches_tuberosity,
           list_contains(places, 'ridge') AS h_touches_ridge,
           CASE WHEN upper THEN palate_mm > palate_bulk_mm END AS h_palate_bulk,
           tries = 1 AS h_first_tray_used,
           CASE WHEN sized_by <> {{.sized_by.No "not_recorded"}} THEN sized_by = {{.sized_by.No "eye"}} END AS h_sized_by_eye,
           CASE WHEN technique <> {{.technique.No "not_recorded"}} THEN technique = {{.technique.No "single_phase"}} END AS h_single_phase
    FROM tray
    CROSS JOIN link_settings
), of_tray AS (
    SELECT case_id, upper, clearance_min_mm, clearance_max_mm, palate_mm, tries, CAST(sized_by AS UTINYINT) AS sized_by,
           CAST(0{{range .coded}}{{if eq .Of "tray"}} + CAST({{.Column}} AS BIGINT) * {{.One}}{{end}}{{end}} AS BIGINT) AS codes
    {{- range .habits}},
           CAST(0{{range .Habits}}{{if eq .Of "tray"}} + CASE WHEN {{.Column}} THEN {{.Yes}} WHEN {{.Column}} IS NULL THEN {{.Unknown}} ELSE 0 END{{end}}{{end}} AS BIGINT) AS {{.Name}}
    {{- end}}
    FROM tried
), fresh AS (
    SELECT case_id, case_no, observed_to_day, display_target_mm - display_suggested_mm AS display_off_mm, codes
    FROM linked_cases WHERE case_no > (SELECT case_no FROM link_base)
), of_case AS (
    SELECT case_id, case_no, observed_to_day,
           CAST(CASE WHEN display_off_mm IS NULL THEN {{.band_display.No "not_recorded"}} WHEN display_off_mm > display_far_mm THEN {{.band_display.No "more"}}
                     WHEN -display_off_mm > display_far_mm THEN {{.band_display.No "less"}} ELSE {{.band_display.No "near"}} END AS UTINYINT) AS band_display,
           CAST({{.place.observed_end.In "codes"}} AS UTINYINT) AS end_reason,
           {{.place.prior_denture.In "codes"}} IN ({{.prior_denture.No "sound"}}, {{.prior_denture.No "unsound"}}) AS old_denture
    FROM fresh CROSS JOIN link_settings
), pointed AS (
    SELECT o.case_id, n.arch,
           date_diff('day', strptime(o.records_on, '%Y-%m-%d'), strptime(c.records_on, '%Y-%m-%d')) + n.delivered_day AS day
    FROM cases c
    JOIN due_cases o ON o.case_id = c.remake_of
    JOIN dentures n ON n.case_id = c.case_id
    WHERE c.remake_of IS NOT NULL AND n.delivered_day IS NOT NULL AND length(c.records_on) = 10 AND length(o.records_on) = 10
), again AS (
    SELECT case_id, arch = 'upper' AS upper, day, scope = 'remake' AS remade FROM due_remakes WHERE scope IN ('remake', 'reline', 'rebase')
    UNION ALL
    SELECT case_id, arch = 'upper', day, TRUE FROM pointed
), delivered AS (
    SELECT case_id, arch = 'upper' AS upper, delivered_day, nullif(remount, 'unknown') = 'no' AS h_no_remount FROM due_dentures WHERE delivered_day IS NOT NULL
), own_again AS (
    SELECT d.case_id, d.upper, CAST(min(m.day) FILTER (m.remade) AS INTEGER) AS remade_day, CAST(min(m.day) FILTER (NOT m.remade) AS INTEGER) AS relined_day
    FROM delivered d
    JOIN due_cases c USING (case_id)
    JOIN again m ON m.case_id = d.case_id AND m.upper = d.upper AND m.day >= d.delivered_day AND m.day <= c.observed_to_day
    GROUP BY d.case_id, d.upper
), made AS ( -- narrow on both sides, so that it does not matter which of them a join holds
    SELECT d.*, m.remade_day, m.relined_day, t.* EXCLUDE (case_id, upper)
    FROM delivered d
    LEFT JOIN own_again m USING (case_id, upper)
    LEFT JOIN of_tray t USING (case_id, upper)
), followed AS (
    SELECT CAST(c.case_no + CAST(d.upper AS INTEGER) AS INTEGER) AS denture_no, delivered_day, least(c.observed_to_day, d.remade_day) AS end_day, relined_day,
           clearance_min_mm, clearance_max_mm, palate_mm, tries,
           CASE WHEN d.remade_day IS NULL THEN c.end_reason ELSE {{.end_reason.No "remade"}} END AS end_reason,
           CASE WHEN d.upper THEN c.band_display ELSE 0 END AS band_display,
           coalesce(d.codes, 0{{range .coded}}{{if eq .Of "tray"}} + CAST({{.Codes.No "not_recorded"}} AS BIGINT) * {{.One}}{{end}}{{end}}) AS codes_of_tray,
           clearance_min_mm IS NULL OR clearance_max_mm IS NULL AS h_clearance_not_recorded,
           CASE WHEN old_denture THEN nullif(sized_by, {{.sized_by.No "not_recorded"}}) <> {{.sized_by.No "existing_denture"}} END AS h_old_denture_unused,
           h_no_remount,
           delivered_day > late_delivery_days AS h_late_delivery
           {{- range .habits}},
           coalesce(d.{{.Name}}, 0{{range .Habits}}{{if eq .Of "tray"}} + {{.Unknown}}{{end}}{{end}}) AS {{.Name}}_of_tray
           {{- end}}
    FROM made d
    JOIN of_case c ON c.case_id = d.case_id AND d.delivered_day <= c.observed_to_day
    CROSS JOIN link_settings
)
SELECT denture_no, delivered_day, end_day, CASE WHEN relined_day <= end_day THEN relined_day - delivered_day END AS relined_day, clearance_min_mm, clearance_max_mm, palate_mm, tries,
       CAST(codes_of_tray{{range .coded}}{{if eq .Of "denture"}} + CAST({{.Column}} AS BIGINT) * {{.One}}{{end}}{{end}} AS BIGINT) AS codes
{{- range .habits}},
       CAST({{.Name}}_of_tray{{range .Habits}}{{if eq .Of "denture"}} + CASE WHEN {{.Column}} THEN {{.Yes}} WHEN {{.Column}} IS NULL THEN {{.Unknown}} ELSE 0 END{{end}}{{end}} AS BIGINT) AS {{.Name}}
{{- end}}
FROM followed
