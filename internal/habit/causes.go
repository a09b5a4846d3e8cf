package habit

// Causes is the one causal diagram behind every adjustment set. Its nodes stand in
// the order in which they are kept rather than dropped: patient and people first,
// records later.
var Causes = Diagram{Nodes: nodes, Edges: edges}

var nodes = []Node{
	{"arch", "Upper or lower denture", true, []string{"arch"}},
	{"clinician", "The person's own way of working", true, []string{"clinician"}},
	{"ridge", "Ridge class", true, []string{"ridge_class"}},
	{"age", "Age band", true, []string{"age_band"}},
	{"sex", "Sex", true, []string{"sex"}},
	{"prior", "The denture worn before", true, []string{"prior_denture"}},
	{"course", "First denture, replacement, immediate or remake", true, []string{"course"}},
	{"operator", "Grade of the person", true, []string{"operator"}},
	{"period", "Calendar time", true, []string{"year", "quarter"}},
	{"lab", "Laboratory", true, []string{"lab"}},
	{"site", "Site", true, []string{"site"}},
	{"frailty", "How frail the patient is", false, nil},

	{"clearance_record", "Tray space written down", true, []string{"h_clearance_not_recorded"}},
	{"technique", "Impression technique", true, []string{"technique", "h_single_phase"}},
	{"sized_by", "What the tray was sized by", true, []string{"sized_by", "h_sized_by_eye", "h_old_denture_unused"}},
	{"tries", "Trays tried", true, []string{"h_first_tray_used", "tries"}},
	{"clearance", "Space between tray and tissue", true, []string{"band_clearance", "clearance_min_mm", "clearance_max_mm",
		"h_clearance_over_2", "h_clearance_under_1", "h_clearance_uneven"}},
	{"touches", "What the tray touched", true, []string{"band_touches", "h_touches_soft_palate", "h_touches_tuberosity", "h_touches_ridge"}},
	{"seating", "How the tray seated", true, []string{"band_seating", "h_partial_seating_used"}},
	{"palate", "Material over the palate", true, []string{"h_palate_bulk", "palate_mm"}},
	{"discomfort", "Discomfort at try-in", true, []string{"band_discomfort", "h_discomfort_used"}},

	{"vertical_basis", "What the vertical was taken from", true, []string{"vertical_basis", "h_vertical_from_unsound", "h_vertical_copied_rest_unmeasured"}},
	{"rest_state", "Rest read with a denture in", true, []string{"h_rest_denture_in"}},
	{"rest_record", "Rest written down", true, []string{"h_rest_not_recorded", "vdr_mm"}},
	{"repeats", "Readings repeated", true, []string{"h_one_reading"}},
	{"repeat_spread", "Repeats that agree", true, []string{"h_repeats_apart"}},
	{"whole_fives", "Readings rounded to 5 mm", true, []string{"h_reading_ends_0_5"}},
	{"sums", "Three numbers that add up", true, []string{"h_does_not_add_up"}},
	{"vertical", "Vertical of occlusion", true, []string{"vdo_mm"}},
	{"freeway", "Freeway space as recorded", true, []string{"band_freeway", "freeway_mm", "h_freeway_low", "h_freeway_high", "h_freeway_not_2_4"}},

	{"lip_record", "Lip length written down", true, []string{"h_lip_not_recorded", "lip_mm"}},
	{"display", "Display asked for", true, []string{"band_display", "display_target_mm", "display_off_mm", "h_display_far"}},
	{"centric_method", "How the centric record was taken", true, []string{"centric_method", "h_centric_by_swallow"}},
	{"centric_takes", "Centric records taken", true, []string{"h_one_centric_take"}},
	{"delay", "Days from records to delivery", true, []string{"h_late_delivery", "delivered_day"}},
	{"remount", "Clinical remount", true, []string{"h_no_remount"}},

	{"reading_error", "Error of the readings", false, nil},
	{"real_freeway", "Freeway space the denture really leaves", false, nil},
	{"fit", "How well the base fits", false, nil},
	{"bite", "Error of the bite", false, nil},

	{"early_sore_spots", "Sore spots", true, nil},
	{"any_ulcer", "Ulcers", true, nil},
	{"display_complaint", "Complaints about the display", true, nil},
	{"vertical_complaint", "Complaints about the vertical", true, nil},
	{"adjustment_visits", "Adjustment visits", true, nil},
	{"reline", "Relines and rebases", true, nil},
	{"remake", "Remakes", true, nil},
}

// Omission is an arrow that may exist and was left out, since nothing recorded
// could block the path that it opens.
type Omission struct{ Node, Sentence string }

// LeftOut lists what every reading of the diagram assumes away; a page shows it
// beside the findings it touches.
var LeftOut = []Omission{
	{"discomfort", "A patient who feels pain easily may report both discomfort at try-in and sore spots later; nothing recorded tells these patients apart, so the link may look larger than it is."},
	{"delay", "A patient who is unwell may both keep appointments late and heal badly; apart from age nothing recorded tells these patients apart."},
	{"rest_state", "Whoever finds rest hard to read in a patient may leave the denture in for that reason; how hard it was is not recorded."},
	{"repeats", "A patient who is easy to read may be read once for that reason, which would make single readings look better than they are."},
	{"repeat_spread", "Readings that disagree may mark a patient who cannot relax, who would have had trouble whatever was done."},
	{"freeway", "Rest and occlusion are two soft readings: their error weakens a link with the freeway space and does not make one."},
	{"remount", "A remount may have been done because the bite looked wrong at delivery, which would make it look worse than it is."},
	{"display", "A patient with strong wishes may ask for another display and be quicker to complain; wishes are not recorded."},
}
