package habit

import "slices"

// because draws arrows that share one reason, by its key in the catalogue.
func because(key string, from, to []string) []Edge {
	why := text("because.*", key)
	var out []Edge
	for _, f := range from {
		for _, t := range to {
			out = append(out, Edge{f, t, why})
		}
	}
	return out
}

func ids(list ...string) []string { return list }

// chosen are the parts of the records that a person decides or leaves out.
var chosen = ids("clearance_record", "technique", "sized_by", "tries", "clearance", "touches", "seating", "palate", "discomfort",
	"vertical_basis", "rest_state", "rest_record", "repeats", "repeat_spread", "whole_fives", "sums", "vertical", "freeway",
	"lip_record", "display", "centric_method", "centric_takes", "delay", "remount")

var edges = slices.Concat(people, patient, trayEdges, verticalEdges, laterEdges)

var people = slices.Concat(
	because("each_person_their_own_way", ids("clinician"), chosen),
	because("training_practice_people_take_records", ids("operator"), chosen),
	because("teaching_trays_house_rules_change", ids("period"), chosen),
	because("skill_no_field_records_shows", ids("clinician", "operator"), ids("fit", "bite", "reading_error")),
	because("one_person_reads_shadow_sore", ids("clinician"),
		ids("early_sore_spots", "any_ulcer", "adjustment_visits", "reline", "remake", "display_complaint", "vertical_complaint")),
	because("materials_habits_aftercare_change_year", ids("period"),
		ids("fit", "bite", "early_sore_spots", "any_ulcer", "adjustment_visits", "reline", "remake", "display_complaint", "vertical_complaint")),
	because("person_one_grade_time", ids("clinician"), ids("operator")),
	because("people_rise_grade_over_years", ids("period"), ids("operator")),
	because("hard_ridges_given_some_people", ids("ridge"), ids("clinician", "operator")),
	because("people_work_certain_sites", ids("site"), ids("clinician")),
	because("site_sends_work_certain_laboratories", ids("site"), ids("lab")),
	because("sites_draw_different_neighbourhoods_referrals", ids("site"), ids("ridge", "age", "prior")),
	because("sites_plan_aftercare_decides_how", ids("site"),
		ids("early_sore_spots", "adjustment_visits", "reline", "remake")),
	because("laboratories_take_more_less_time", ids("lab"), ids("delay")),
	because("laboratories_process_bases_set_teeth", ids("lab"), ids("fit", "bite")),
)

var patient = slices.Concat(
	because("ridges_shrink_over_years", ids("age"), ids("ridge")),
	because("frailty_comes_age", ids("age"), ids("frailty")),
	because("poor_health_goes_thin_tissue", ids("frailty"), ids("ridge")),
	because("frail_patients_hurt_sooner_come", ids("frailty"), ids("early_sore_spots", "any_ulcer", "adjustment_visits", "reline", "remake")),
	because("low_ridge_hard_fit_tray", ids("ridge"), ids("clearance", "touches", "seating", "discomfort", "tries", "technique")),
	because("low_ridge_records_less_steady", ids("ridge"), ids("rest_state", "repeats", "repeat_spread", "centric_takes", "centric_method", "remount", "freeway")),
	because("low_ridge_carries_denture_badly", ids("ridge"), ids("early_sore_spots", "adjustment_visits", "reline", "remake", "bite")),
	because("upper_lower_jaws_differ_shape", ids("arch"), ids("clearance", "touches", "seating", "palate", "discomfort", "tries", "technique", "sized_by", "clearance_record")),
	because("lower_dentures_rest_less_need", ids("arch"), ids("early_sore_spots", "any_ulcer", "adjustment_visits", "reline", "remake", "display_complaint")),
	because("face_height_muscle_tone_differ", ids("age", "sex"), ids("vertical", "freeway")),
	because("jaws_differ_size_sex", ids("sex"), ids("clearance")),
	because("less_upper_teeth_shows_older", ids("age", "sex"), ids("display")),
	because("wishes_about_looks_differ_age", ids("age", "sex"), ids("display_complaint", "vertical_complaint")),
	because("where_there_old_denture_vertical", ids("prior"), ids("vertical_basis", "sized_by", "rest_state", "vertical", "freeway")),
	because("old_dentures_looks_kept_changed", ids("prior"), ids("display")),
	because("whether_there_old_denture_decides", ids("prior"), ids("course")),
	because("what_worn_before_shapes_what", ids("prior"), ids("early_sore_spots", "adjustment_visits", "remake", "display_complaint", "vertical_complaint")),
	because("immediate_denture_remake_hurried_waited", ids("course"), ids("delay")),
	because("sockets_still_healing_dentures_failed", ids("course"), ids("early_sore_spots", "adjustment_visits", "reline", "remake")),
)

var trayEdges = slices.Concat(
	because("space_written_down_often_looked", ids("clearance_record"), ids("clearance")),
	because("each_technique_asks_own_space", ids("technique"), ids("clearance")),
	because("tray_sized_eye_more_often", ids("sized_by"), ids("tries", "clearance")),
	because("first_tray_tried_always_nearest", ids("tries"), ids("clearance")),
	because("tray_wrong_size_reaches_rides", ids("clearance"), ids("touches")),
	because("tray_without_room_held_up", ids("clearance", "touches"), ids("seating")),
	because("oversized_half_seated_tray_leaves", ids("clearance", "seating"), ids("palate")),
	because("tray_tight_touches_does_seat", ids("clearance", "touches", "seating"), ids("discomfort")),
	because("uneven_thick_displaced_material_gives",
		ids("technique", "clearance", "touches", "seating", "palate", "discomfort"), ids("fit")),
	because("tissue_changes_while_denture_waited", ids("delay"), ids("fit")),
)

var verticalEdges = slices.Concat(
	because("bulk_over_palate_keeps_patient", ids("palate"), ids("vertical")),
	because("vertical_copied_worked_out_rest", ids("vertical_basis"), ids("vertical")),
	because("whoever_copies_vertical_sees_less", ids("vertical_basis"), ids("rest_record")),
	because("freeway_space_rest_minus_vertical", ids("vertical"), ids("freeway")),
	because("rest_moves_when_denture", ids("rest_state"), ids("freeway", "reading_error")),
	because("rest_position_written_down_guessed", ids("rest_record"), ids("reading_error")),
	because("one_reading_carries_whole_error", ids("repeats"), ids("reading_error")),
	because("repeats_disagree_leave_value_doubt", ids("repeat_spread"), ids("reading_error")),
	because("rounding_5_mm_miss_up", ids("whole_fives"), ids("reading_error")),
	because("when_three_numbers_disagree_one", ids("sums"), ids("reading_error")),
	because("denture_built_what_recorded", ids("freeway"), ids("real_freeway")),
	because("error_readings_ends_up_space", ids("reading_error"), ids("real_freeway")),
	because("without_lip_length_display_guess", ids("lip_record"), ids("display")),
	because("some_ways_finding_centric_repeat", ids("centric_method"), ids("bite")),
	because("single_record_cannot_show_repeated", ids("centric_takes"), ids("bite")),
	because("remount_takes_out_errors_processing", ids("remount"), ids("bite")),
)

var laterEdges = slices.Concat(
	because("too_little_room_rest_ridges", ids("real_freeway"), ids("early_sore_spots")),
	because("too_little_too_much_room", ids("real_freeway"), ids("vertical_complaint", "adjustment_visits")),
	because("base_does_fit_presses_here", ids("fit"), ids("early_sore_spots", "adjustment_visits", "reline", "remake")),
	because("wrong_bite_tips_denture_presses", ids("bite"), ids("early_sore_spots", "adjustment_visits", "remake")),
	because("display_other_than_lip_face", ids("display"), ids("display_complaint")),
	because("sore_spot_goes_breaks_surface", ids("early_sore_spots"), ids("any_ulcer")),
	because("what_hurts_displeases_brought_back", ids("early_sore_spots", "any_ulcer", "display_complaint", "vertical_complaint"), ids("adjustment_visits")),
	because("what_many_adjustments_do_settle", ids("adjustment_visits"), ids("reline", "remake")),
	because("looks_vertical_cannot_adjusted_made", ids("display_complaint", "vertical_complaint"), ids("remake")),
	because("reline_settles_fit_without_new", ids("reline"), ids("remake")),
)
