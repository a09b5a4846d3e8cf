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
	{"freeway_low", OfHabit, ids(visits, sore, tallness), More, stated, "With too little room between the teeth at rest the ridges are loaded all day.",
		practice + "; for chewing Bilhan 2012, J Adv Prosthodont 4:109-15"},
	{"freeway_low", OfHabit, ids(ulcer, remake), More, exploratory, "Soreness from too little room may break the surface, and a vertical that is too high cannot be ground away.", practice},
	{"freeway_high", OfHabit, ids(tallness, visits), More, stated, "Too much room at rest weakens the bite and lets the face drop.",
		practice + "; Mohindra 1996, Br Dent J 180:211-6 (from memory)"},
	{"freeway_not_2_4", OfHabit, ids(visits, tallness), More, exploratory, "A space outside the usual taught one may be too little or too much.",
		practice + "; unfair to long faces, whose space is smaller (Manns 2018, J Prosthet Dent)"},
	{"vertical_from_unsound", OfHabit, ids(visits, tallness, remake), More, stated, "A wrong vertical that is copied stays wrong.", practice},
	{"vertical_copied_rest_unmeasured", OfHabit, ids(visits, tallness, remake), More, stated, "Without a reading of rest nobody sees how much room the copied vertical leaves.", practice},
	{"does_not_add_up", OfHabit, ids(visits, tallness), More, exploratory, "When the three numbers disagree the denture may have been built to the wrong one.", "arithmetic"},
	{"reading_ends_0_5", OfHabit, ids(visits, tallness), More, exploratory, "A reading rounded to 5 mm can miss the vertical by up to 2.5 mm.", "arithmetic"},
	{"rest_denture_in", OfHabit, ids(visits, tallness), Either, stated, "Rest moves when a denture is in, so the room left differs from the room written.", practice},
	{"one_reading", OfHabit, ids(visits, tallness), More, stated, "A single soft reading carries its whole error into the vertical.",
		"arithmetic: the mean of k readings has the error of one divided by the root of k"},
	{"repeats_apart", OfHabit, ids(visits, tallness), More, stated, "Repeats that disagree leave the vertical in doubt.", practice + ": repeat until two or three agree within 1 mm"},
	{"rest_not_recorded", OfHabit, ids(visits, tallness), More, stated, "Without a reading of rest the freeway space is a guess.", practice},
}

const tooSmall = "A tray that is too small rides on the tissue and leaves thick unsupported material at the borders."

var trayClaims = []claim{
	{"clearance_over_2", OfHabit, ids(visits, sore), More, stated, "An oversized tray makes bulk over the palate, which keeps the patient from closing and eats the freeway space.", practice},
	{"clearance_over_2", OfHabit, ids(reline, remake), More, exploratory, "Bulk distorts the impression, and a base that never fitted is relined or made again.", practice},
	{"clearance_under_1", OfHabit, ids(visits, sore), More, stated, tooSmall, practice},
	{"clearance_uneven", OfHabit, ids(visits, sore), More, stated, "Material of uneven thickness shrinks unevenly, so the base presses in places.", practice},
	{"partial_seating_used", OfHabit, ids(visits, sore), More, stated, "A tray that does not seat records the tissue out of place.", practice},
	{"partial_seating_used", OfHabit, ids(reline, remake), More, exploratory, "A base made from a half-seated tray may never fit.", practice},
	{"discomfort_used", OfHabit, ids(visits, sore), More, stated, "What presses at the try-in pushes the tissue out of shape in the impression.", practice},
	{"touches_soft_palate", OfHabit, ids(visits, sore), More, stated, "A tray that reaches too far back gives a border that is too long.", practice},
	{"touches_tuberosity", OfHabit, ids(visits, sore), More, stated, tooSmall, practice},
	{"touches_ridge", OfHabit, ids(visits, sore), More, stated, tooSmall, practice},
	{"palate_bulk", OfHabit, ids(visits, sore, tallness), More, stated, "Bulk over the palate keeps the patient from closing to the right vertical.", practice},
	{"first_tray_used", OfHabit, ids(visits, sore), More, exploratory, "The first tray tried is not always the nearest in size.", practice},
	{"sized_by_eye", OfHabit, ids(visits, sore), More, exploratory, "A tray sized by eye is more often the wrong size.", practice},
	{"old_denture_unused", OfHabit, ids(visits, sore), More, stated, "The inside of the right tray is about the size of the old denture, where there is one.", practice},
	{"single_phase", OfHabit, ids(visits, sore), Either, exploratory, "Material of one viscosity flows and presses in another way than two.", practice},
	{"clearance_not_recorded", OfHabit, ids(visits, sore), More, exploratory, "Space that is not written down was often not looked at.", practice},
}

const biteTips = "A wrong bite tips the denture and presses on one side."

var otherClaims = []claim{
	{"lip_not_recorded", OfHabit, ids(shows), More, stated, "Without the lip length the display is a guess.", practice},
	{"display_far", OfHabit, ids(shows), More, stated, "A display far from what lip and face suggest is noticed.", "Vig & Brundo 1978, J Prosthet Dent 39:502-4 (values from memory; natural teeth)"},
	{"display_far", OfHabit, ids(remake), More, exploratory, "Teeth that show too much or too little cannot always be moved on the base.", practice},
	{"one_centric_take", OfHabit, ids(visits, sore), More, stated, "A single record cannot show that it can be repeated, and a wrong bite presses on one side.", practice},
	{"one_centric_take", OfHabit, ids(remake), More, exploratory, "A bite that is far out is made again.", practice},
	{"centric_by_swallow", OfHabit, ids(visits, sore), More, stated, biteTips,
		"12 edentulous people, read in an abstract: swallowing repeated worse than guided closure or a gothic arch"},
	{"no_remount", OfHabit, ids(visits, sore), More, stated, "Without a remount the errors of processing stay in the bite.", practice},
	{"late_delivery", OfHabit, ids(visits, sore, reline), More, exploratory, "Tissue changes while the denture is waited for.", practice},
}

var quantityClaims = []claim{
	{"freeway_mm", OfQuantity, ids(visits, sore), Fewer, stated, "The more room between the teeth at rest, up to the usual, the less the ridges are loaded.",
		practice + "; for chewing Bilhan 2012, J Adv Prosthodont 4:109-15"},
	{"freeway_mm", OfQuantity, ids(tallness), Either, stated, "Too little room is felt as too tall and too much as too short.", practice},
	{"clearance_max_mm", OfQuantity, ids(visits, sore), More, stated, "The more space in the tray, the more bulk and the less even the material.", practice},
	{"display_off_mm", OfQuantity, ids(shows), Either, stated, "More display than the lip suggests shows too much, less shows too little.", "Vig & Brundo 1978, J Prosthet Dent 39:502-4 (values from memory; natural teeth)"},
}

const controlSource = "negative control: Lipsitch, Tchetgen Tchetgen & Cohen 2010, Epidemiology 21:383-8 (from memory)"

// controlClaims are pairs that should show nothing: the first three take a habit
// that cannot bring about the outcome, the others an outcome that the habit cannot
// bring about.
var controlClaims = []claim{
	{"lip_not_recorded", OfHabit, ids(sore, ulcer), Either, stated, "Lip length decides how much of the teeth shows and has no part in how the base presses, so a link would point to hidden differences.", controlSource},
	{"display_far", OfHabit, ids(sore), Either, stated, "The display asked for has no part in how the base presses, so a link would point to hidden differences.", controlSource},
	{"display_off_mm", OfQuantity, ids(sore), Either, stated, "The display asked for has no part in how the base presses, so a link would point to hidden differences.", controlSource},
	{"no_remount", OfHabit, ids(shows), Either, stated, "A remount changes how back teeth meet and not how much of the front teeth shows, so a link would point to hidden differences.", controlSource},
	{"one_centric_take", OfHabit, ids(shows), Either, stated, "The centric record decides where the jaws meet and not how much of the front teeth shows, so a link would point to hidden differences.", controlSource},
}
