-- Question:   what was recorded for each delivered denture, and how long was it followed?
-- Unit:       one row per delivered denture (one arch of one case) seen on or after its delivery day
-- Parameters: none; thresholds come from link_settings (one row)
-- Columns:    keys, denture_no and patient_no (numbers in the order of the keys, for fast joins), case mix, follow-up (days from delivery), recorded values, bands, and one h_ column
--             per habit: TRUE, FALSE, or NULL where it cannot be assessed
-- Order:      none; readers state their own
-- The last digit of patient_no is drawn from the key by MD5, so that whoever deals patients into two, five or ten parts
-- by number deals a patient into the same part whatever else was loaded.
-- Follow-up ends at the earliest of the end of observation (death included) and the denture's own
-- remake. A remake known only from a later case (remake_of) is dated when both cases carry a full
-- date of records; otherwise it cannot be dated and observation ends as the old case says.
CREATE OR REPLACE TABLE linked_dentures AS
WITH pointed AS (
    SELECT o.case_id, n.arch,
           date_diff('day', strptime(o.records_on, '%Y-%m-%d'), strptime(c.records_on, '%Y-%m-%d')) + n.delivered_day AS day
    FROM cases c
    JOIN cases o ON o.case_id = c.remake_of
    JOIN dentures n ON n.case_id = c.case_id
    WHERE n.delivered_day IS NOT NULL AND length(c.records_on) = 10 AND length(o.records_on) = 10
), made_again AS (
    SELECT case_id, arch, day FROM remakes WHERE scope = 'remake'
    UNION ALL
    SELECT case_id, arch, day FROM pointed
), own_remake AS (
    SELECT d.case_id, d.arch, min(m.day) AS day
    FROM dentures d
    JOIN cases c USING (case_id)
    JOIN made_again m ON m.case_id = d.case_id AND m.arch = d.arch AND m.day >= d.delivered_day AND m.day <= c.observed_to_day
    GROUP BY d.case_id, d.arch
), followed AS (
    SELECT d.*, c.* EXCLUDE (case_id, load_id),
           least(c.observed_to_day, coalesce(m.day, c.observed_to_day)) AS end_day,
           CASE WHEN m.day IS NOT NULL THEN 'remade' ELSE coalesce(c.observed_end, 'unknown') END AS end_reason
    FROM (SELECT * EXCLUDE (load_id) FROM dentures) d
    JOIN cases c USING (case_id)
    LEFT JOIN own_remake m USING (case_id, arch)
    WHERE d.delivered_day IS NOT NULL AND d.delivered_day <= c.observed_to_day
), repeated AS ( -- single readings of rest and occlusion by the case's own clinician
    SELECT r.case_id, r.measure, count(*) AS takes, max(r.value_mm) - min(r.value_mm) AS apart_mm
    FROM readings r
    JOIN cases c USING (case_id)
    WHERE r.measure IN ('vdr', 'vdo') AND coalesce(r.reader, c.clinician) = c.clinician
    GROUP BY r.case_id, r.measure
), read_once AS (
    SELECT case_id, max(takes) AS most_takes, max(apart_mm) FILTER (takes > 1) AS apart_mm
    FROM repeated
    GROUP BY case_id
), house AS ( -- a site takes repeats when at least half of its cases with single readings have two of one measure
    SELECT c.site, 2 * count(*) FILTER (o.most_takes > 1) >= count(*) AS takes_repeats
    FROM read_once o
    JOIN cases c USING (case_id)
    GROUP BY c.site
), valued AS (
    SELECT f.*, f.end_day - f.delivered_day AS risk_days,
           r.* EXCLUDE (case_id, load_id, freeway_mm),
           coalesce(r.freeway_mm, r.vdr_mm - r.vdo_mm) AS freeway_mm,
           abs(r.freeway_mm - (r.vdr_mm - r.vdo_mm)) AS freeway_gap_mm,
           t.* EXCLUDE (case_id, arch, load_id),
           t.clearance_max_mm - t.clearance_min_mm AS clearance_gap_mm,
           -- Upper incisor display by lip length (Vig & Brundo 1978).
           CASE WHEN r.lip_mm < 10 OR r.lip_mm > 36 THEN NULL
                WHEN r.lip_mm <= 15 THEN 3.92 WHEN r.lip_mm <= 20 THEN 3.44 WHEN r.lip_mm <= 25 THEN 2.18
                WHEN r.lip_mm <= 30 THEN 0.93 WHEN r.lip_mm <= 36 THEN 0.25 END AS display_suggested_mm,
           o.most_takes, o.apart_mm, coalesce(h.takes_repeats, false) AS takes_repeats,
           s.*
    FROM followed f
    LEFT JOIN records r USING (case_id)
    LEFT JOIN trays t USING (case_id, arch)
    LEFT JOIN read_once o USING (case_id)
    LEFT JOIN house h USING (site)
    CROSS JOIN link_settings s
)
SELECT case_id, arch, patient_key, site, clinician, lab, records_on,
       CAST(row_number() OVER (ORDER BY case_id, arch) AS INTEGER) AS denture_no, CAST(10 * dense_rank() OVER (ORDER BY patient_key) + CAST(md5_number_lower(patient_key) % 10 AS INTEGER) AS INTEGER) AS patient_no,
       CASE WHEN length(records_on) = 4 THEN records_on
            WHEN records_on LIKE '%Q%' THEN records_on
            ELSE records_on[1:4] || '-Q' || CAST((CAST(records_on[6:7] AS INTEGER) + 2) // 3 AS VARCHAR) END AS quarter,
       records_on[1:4] AS year, age_band, sex, ridge_class, prior_denture, course, operator,
       delivered_day, end_day, risk_days, end_reason,
       freeway_mm, vdr_mm, vdo_mm, lip_mm, display_target_mm, display_suggested_mm,
       display_target_mm - display_suggested_mm AS display_off_mm, clearance_min_mm, clearance_max_mm, palate_mm, tries,
       coalesce(nullif(v.technique, 'unknown'), 'not_recorded') AS technique, coalesce(nullif(v.sized_by, 'unknown'), 'not_recorded') AS sized_by,
       coalesce(nullif(v.vertical_basis, 'unknown'), 'not_recorded') AS vertical_basis, coalesce(nullif(v.centric_method, 'unknown'), 'not_recorded') AS centric_method,
       CASE WHEN freeway_mm IS NULL THEN 'not_recorded' WHEN freeway_mm < freeway_low_mm THEN 'low'
            WHEN freeway_mm > freeway_high_mm THEN 'high' ELSE 'usual' END AS band_freeway,
       -- More than the upper setting comes first: a bulky tray is nearly always uneven as well.
       CASE WHEN clearance_min_mm IS NULL OR clearance_max_mm IS NULL THEN 'not_recorded'
            WHEN clearance_max_mm > clearance_high_mm THEN 'bulky' WHEN clearance_min_mm < clearance_low_mm THEN 'tight'
            WHEN clearance_gap_mm > clearance_uneven_mm THEN 'uneven' ELSE 'within' END AS band_clearance,
       coalesce(nullif(seating, 'unknown'), 'not_recorded') AS band_seating,
       coalesce(nullif(discomfort, 'unknown'), 'not_recorded') AS band_discomfort,
       -- The ridge comes first: a tray that rides on it is held off everything else.
       CASE WHEN touches IS NULL THEN 'not_recorded' WHEN list_contains(string_split(touches, '|'), 'ridge') THEN 'ridge'
            WHEN list_contains(string_split(touches, '|'), 'tuberosity') THEN 'tuberosity'
            WHEN list_contains(string_split(touches, '|'), 'soft_palate') THEN 'soft_palate' WHEN touches = 'none' THEN 'none' ELSE 'other' END AS band_touches,
       CASE WHEN arch = 'lower' THEN NULL WHEN display_target_mm IS NULL OR display_suggested_mm IS NULL THEN 'not_recorded'
            WHEN display_target_mm - display_suggested_mm > display_far_mm THEN 'more'
            WHEN display_suggested_mm - display_target_mm > display_far_mm THEN 'less' ELSE 'near' END AS band_display,
       freeway_mm < freeway_low_mm AS h_freeway_low,
       freeway_mm > freeway_high_mm AS h_freeway_high,
       freeway_mm < 2 OR freeway_mm > 4 AS h_freeway_not_2_4,
       CASE WHEN prior_denture = 'unsound' AND v.vertical_basis <> 'unknown' THEN v.vertical_basis = 'existing_denture' END AS h_vertical_from_unsound,
       CASE WHEN v.vertical_basis <> 'unknown' THEN v.vertical_basis = 'existing_denture' AND vdr_mm IS NULL END AS h_vertical_copied_rest_unmeasured,
       freeway_gap_mm > adds_up_mm AS h_does_not_add_up,
       vdo_mm % 5 = 0 AS h_reading_ends_0_5,
       CASE WHEN rest_denture_in <> 'unknown' THEN rest_denture_in = 'yes' END AS h_rest_denture_in,
       CASE WHEN takes_repeats THEN most_takes = 1 END AS h_one_reading,
       apart_mm > repeats_apart_mm AS h_repeats_apart,
       clearance_max_mm > clearance_high_mm AS h_clearance_over_2,
       clearance_min_mm < clearance_low_mm AS h_clearance_under_1,
       clearance_gap_mm > clearance_uneven_mm AS h_clearance_uneven,
       CASE WHEN seating <> 'unknown' THEN seating = 'partial' END AS h_partial_seating_used,
       CASE WHEN discomfort <> 'unknown' THEN discomfort = 'yes' END AS h_discomfort_used,
       CASE WHEN arch = 'upper' THEN list_contains(string_split(touches, '|'), 'soft_palate') END AS h_touches_soft_palate,
       CASE WHEN arch = 'upper' THEN list_contains(string_split(touches, '|'), 'tuberosity') END AS h_touches_tuberosity,
       list_contains(string_split(touches, '|'), 'ridge') AS h_touches_ridge,
       CASE WHEN arch = 'upper' THEN palate_mm > palate_bulk_mm END AS h_palate_bulk,
       tries = 1 AS h_first_tray_used,
       CASE WHEN v.sized_by <> 'unknown' THEN v.sized_by = 'eye' END AS h_sized_by_eye,
       CASE WHEN v.prior_denture IN ('sound', 'unsound') AND v.sized_by <> 'unknown' THEN v.sized_by <> 'existing_denture' END AS h_old_denture_unused,
       CASE WHEN v.technique <> 'unknown' THEN v.technique = 'single_phase' END AS h_single_phase,
       clearance_min_mm IS NULL OR clearance_max_mm IS NULL AS h_clearance_not_recorded,
       lip_mm IS NULL AS h_lip_not_recorded,
       abs(display_target_mm - display_suggested_mm) > display_far_mm AS h_display_far,
       centric_takes = 1 AS h_one_centric_take,
       CASE WHEN v.centric_method <> 'unknown' THEN v.centric_method = 'swallow' END AS h_centric_by_swallow,
       CASE WHEN remount <> 'unknown' THEN remount = 'no' END AS h_no_remount,
       vdr_mm IS NULL AS h_rest_not_recorded,
       delivered_day > late_delivery_days AS h_late_delivery
FROM valued v
