package habit

// Causes is the one causal diagram behind every adjustment set. Its nodes stand in
// the order in which they are kept rather than dropped: patient and people first,
// records later.
var Causes = Diagram{Nodes: nodes, Edges: edges}

var nodes = []Node{
	node("arch", true, "arch"),
	node("clinician", true, "clinician"),
	node("ridge", true, "ridge_class"),
	node("age", true, "age_band"),
	node("sex", true, "sex"),
	node("prior", true, "prior_denture"),
	node("course", true, "course"),
	node("operator", true, "operator"),
	node("period", true, "year", "quarter"),
	node("lab", true, "lab"),
	node("site", true, "site"),
	node("frailty", false),

	node("clearance_record", true, "h_clearance_not_recorded"),
	node("technique", true, "technique", "h_single_phase"),
	node("sized_by", true, "sized_by", "h_sized_by_eye", "h_old_denture_unused"),
	node("tries", true, "h_first_tray_used", "tries"),
	node("clearance", true, "band_clearance", "clearance_min_mm", "clearance_max_mm",
		"h_clearance_over_2", "h_clearance_under_1", "h_clearance_uneven"),
	node("touches", true, "band_touches", "h_touches_soft_palate", "h_touches_tuberosity", "h_touches_ridge"),
	node("seating", true, "band_seating", "h_partial_seating_used"),
	node("palate", true, "h_palate_bulk", "palate_mm"),
	node("discomfort", true, "band_discomfort", "h_discomfort_used"),

	node("vertical_basis", true, "vertical_basis", "h_vertical_from_unsound", "h_vertical_copied_rest_unmeasured"),
	node("rest_state", true, "h_rest_denture_in"),
	node("rest_record", true, "h_rest_not_recorded", "vdr_mm"),
	node("repeats", true, "h_one_reading"),
	node("repeat_spread", true, "h_repeats_apart"),
	node("whole_fives", true, "h_reading_ends_0_5"),
	node("sums", true, "h_does_not_add_up"),
	node("vertical", true, "vdo_mm"),
	node("freeway", true, "band_freeway", "freeway_mm", "h_freeway_low", "h_freeway_high", "h_freeway_not_2_4"),

	node("lip_record", true, "h_lip_not_recorded", "lip_mm"),
	node("display", true, "band_display", "display_target_mm", "display_off_mm", "h_display_far"),
	node("centric_method", true, "centric_method", "h_centric_by_swallow"),
	node("centric_takes", true, "h_one_centric_take"),
	node("delay", true, "h_late_delivery", "delivered_day"),
	node("remount", true, "h_no_remount"),

	node("reading_error", false),
	node("real_freeway", false),
	node("fit", false),
	node("bite", false),

	node("early_sore_spots", true),
	node("any_ulcer", true),
	node("display_complaint", true),
	node("vertical_complaint", true),
	node("adjustment_visits", true),
	node("reline", true),
	node("remake", true),
}

// Omission is an arrow that may exist and was left out, since nothing recorded
// could block the path that it opens.
type Omission struct{ Node, Sentence string }

// LeftOut lists what every reading of the diagram assumes away; a page shows it
// beside the findings it touches.
var LeftOut = leftOut("discomfort", "delay", "rest_state", "repeats", "repeat_spread", "freeway", "remount", "display")

// node is a node whose label stands in the catalogue.
func node(id string, measured bool, columns ...string) Node {
	return Node{id, capital(text("cause.*", id)), measured, columns}
}

func leftOut(nodes ...string) []Omission {
	out := make([]Omission, len(nodes))
	for i, n := range nodes {
		out[i] = Omission{n, text("left_out.*", n)}
	}
	return out
}
