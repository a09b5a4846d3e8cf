package habit

import "slices"

// Short names of outcomes for the lists below, as the findings spell them.
const (
	visits   = "adjustment_visits"
	sore     = "early_sore_spots"
	ulcer    = "any_ulcer"
	reline   = "reline"
	remake   = "remake"
	shows    = "display_complaint"
	tallness = "vertical_complaint"
)

// Hypotheses is the catalogue: what to look at, in the order in which pages show it.
var Hypotheses = slices.Concat(
	spread(false, slices.Concat(verticalClaims, trayClaims, otherClaims, quantityClaims)), spread(true, controlClaims))

const (
	stated      = true
	exploratory = false
)

var verticalClaims = []claim{
	{"freeway_low", OfHabit, ids(visits, sore, tallness), More, stated, "too_little_room_between_teeth", "practice_chewing_bilhan_2012"},
	{"freeway_low", OfHabit, ids(ulcer, remake), More, exploratory, "soreness_too_little_room_break", "practice"},
	{"freeway_high", OfHabit, ids(tallness, visits), More, stated, "too_much_room_rest_weakens", "practice_mohindra_1996_br"},
	{"freeway_not_2_4", OfHabit, ids(visits, tallness), More, exploratory, "space_outside_usual_taught_one", "practice_unfair_long_faces"},
	{"vertical_from_unsound", OfHabit, ids(visits, tallness, remake), More, stated, "wrong_vertical_copied_stays_wrong", "practice"},
	{"vertical_copied_rest_unmeasured", OfHabit, ids(visits, tallness, remake), More, stated, "without_reading_rest_nobody_sees", "practice"},
	{"does_not_add_up", OfHabit, ids(visits, tallness), More, exploratory, "when_three_numbers_disagree_denture", "arithmetic"},
	{"reading_ends_0_5", OfHabit, ids(visits, tallness), More, exploratory, "reading_rounded_5_mm_miss", "arithmetic"},
	{"rest_denture_in", OfHabit, ids(visits, tallness), Either, stated, "rest_moves_when_denture_so", "practice"},
	{"one_reading", OfHabit, ids(visits, tallness), More, stated, "single_soft_reading_carries_whole", "arithmetic_mean_k_readings"},
	{"repeats_apart", OfHabit, ids(visits, tallness), More, stated, "repeats_disagree_leave_vertical_doubt", "practice_repeat_until_two"},
	{"rest_not_recorded", OfHabit, ids(visits, tallness), More, stated, "without_reading_rest_freeway_space", "practice"},
}

var trayClaims = []claim{
	{"clearance_over_2", OfHabit, ids(visits, sore), More, stated, "oversized_tray_makes_bulk_over", "practice"},
	{"clearance_over_2", OfHabit, ids(reline, remake), More, exploratory, "bulk_distorts_impression_base_never", "practice"},
	{"clearance_under_1", OfHabit, ids(visits, sore), More, stated, "tray_too_small_rides_tissue", "practice"},
	{"clearance_uneven", OfHabit, ids(visits, sore), More, stated, "material_uneven_thickness_shrinks_unevenly", "practice"},
	{"partial_seating_used", OfHabit, ids(visits, sore), More, stated, "tray_does_seat_records_tissue", "practice"},
	{"partial_seating_used", OfHabit, ids(reline, remake), More, exploratory, "base_made_half_seated_tray", "practice"},
	{"discomfort_used", OfHabit, ids(visits, sore), More, stated, "what_presses_try_pushes_tissue", "practice"},
	{"touches_soft_palate", OfHabit, ids(visits, sore), More, stated, "tray_reaches_too_far_back", "practice"},
	{"touches_tuberosity", OfHabit, ids(visits, sore), More, stated, "tray_too_small_rides_tissue", "practice"},
	{"touches_ridge", OfHabit, ids(visits, sore), More, stated, "tray_too_small_rides_tissue", "practice"},
	{"palate_bulk", OfHabit, ids(visits, sore, tallness), More, stated, "bulk_over_palate_keeps_patient", "practice"},
	{"first_tray_used", OfHabit, ids(visits, sore), More, exploratory, "first_tray_tried_always_nearest", "practice"},
	{"sized_by_eye", OfHabit, ids(visits, sore), More, exploratory, "tray_sized_eye_more_often", "practice"},
	{"old_denture_unused", OfHabit, ids(visits, sore), More, stated, "inside_right_tray_about_size", "practice"},
	{"single_phase", OfHabit, ids(visits, sore), Either, exploratory, "material_one_viscosity_flows_presses", "practice"},
	{"clearance_not_recorded", OfHabit, ids(visits, sore), More, exploratory, "space_written_down_often_looked", "practice"},
}

var otherClaims = []claim{
	{"lip_not_recorded", OfHabit, ids(shows), More, stated, "without_lip_length_display_guess", "practice"},
	{"display_far", OfHabit, ids(shows), More, stated, "display_far_what_lip_face", "vig_brundo_1978_j"},
	{"display_far", OfHabit, ids(remake), More, exploratory, "teeth_show_too_much_too", "practice"},
	{"one_centric_take", OfHabit, ids(visits, sore), More, stated, "single_record_cannot_show_repeated", "practice"},
	{"one_centric_take", OfHabit, ids(remake), More, exploratory, "bite_far_out_made_again", "practice"},
	{"centric_by_swallow", OfHabit, ids(visits, sore), More, stated, "wrong_bite_tips_denture_presses", "12_edentulous_people_read"},
	{"no_remount", OfHabit, ids(visits, sore), More, stated, "without_remount_errors_processing_stay", "practice"},
	{"late_delivery", OfHabit, ids(visits, sore, reline), More, exploratory, "tissue_changes_while_denture_waited", "practice"},
}

var quantityClaims = []claim{
	{"freeway_mm", OfQuantity, ids(visits, sore), Fewer, stated, "more_room_between_teeth_rest", "practice_chewing_bilhan_2012"},
	{"freeway_mm", OfQuantity, ids(tallness), Either, stated, "too_little_room_felt_too", "practice"},
	{"clearance_max_mm", OfQuantity, ids(visits, sore), More, stated, "more_space_tray_more_bulk", "practice"},
	{"display_off_mm", OfQuantity, ids(shows), Either, stated, "more_display_than_lip_suggests", "vig_brundo_1978_j"},
}

// controlClaims are pairs that should show nothing: the first three take a habit
// that cannot bring about the outcome, the others an outcome that the habit cannot
// bring about.
var controlClaims = []claim{
	{"lip_not_recorded", OfHabit, ids(sore, ulcer), Either, stated, "lip_length_decides_how_much", "negative_control_lipsitch_tchetgen"},
	{"display_far", OfHabit, ids(sore), Either, stated, "display_asked_no_part_how", "negative_control_lipsitch_tchetgen"},
	{"display_off_mm", OfQuantity, ids(sore), Either, stated, "display_asked_no_part_how", "negative_control_lipsitch_tchetgen"},
	{"no_remount", OfHabit, ids(shows), Either, stated, "remount_changes_how_back_teeth", "negative_control_lipsitch_tchetgen"},
	{"one_centric_take", OfHabit, ids(shows), Either, stated, "centric_record_decides_where_jaws", "negative_control_lipsitch_tchetgen"},
}
