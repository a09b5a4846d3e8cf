// Package habit is the catalogue of record-taking habits: what each one is, in
// words for clinicians, where it comes from and when it cannot be assessed. The
// column of linked_dentures that holds a habit is "h_" and its id; the statement
// queries/link_dentures.sql says how each is worked out.
package habit

import "slices"

// Unit is what a habit is counted in.
type Unit string

// A habit of the impression or the delivery belongs to a denture, one of the
// records appointment to a case.
const (
	Denture Unit = "denture"
	Case    Unit = "case"
)

// practice marks what is common practice and has no published source.
const practice = "common practice, no source"

// Habit is one way of taking records.
type Habit struct {
	ID            string
	Group         string // vertical, tray, display, centric or paper
	Title         string // a short name, as a heading
	Sentence      string // what was done, as the end of "Dentures ..."
	Unit          Unit
	Source        string
	NotAssessable string // when the habit can be neither seen nor ruled out
	Advice        string // what a reader might try instead; "" where the catalogue has none
}

// Column is the habit's column in linked_dentures: TRUE, FALSE, or NULL where it
// cannot be assessed.
func (h Habit) Column() string { return "h_" + h.ID }

// Find returns the habit of that id.
func Find(id string) (Habit, bool) {
	i := slices.IndexFunc(Catalogue, func(h Habit) bool { return h.ID == id })
	if i < 0 {
		return Habit{}, false
	}
	return Catalogue[i], true
}

// Catalogue lists every habit, in the order in which pages show them.
var Catalogue = slices.Concat(vertical, tray, display, rest)

const noVertical = "the freeway space was neither written down nor can be worked out"

var vertical = []Habit{
	{"freeway_low", "vertical", "Freeway space under 1 mm", "with less than 1 mm of freeway space", Case,
		practice + ": 1 to 5 mm is subtracted from rest", noVertical, "Read rest again before the try-in when less than 1 mm is left."},
	{"freeway_high", "vertical", "Freeway space over 5 mm", "with more than 5 mm of freeway space", Case,
		practice + ": 1 to 5 mm is subtracted from rest", noVertical, "Check the vertical with speech at the try-in when more than 5 mm is left."},
	{"freeway_not_2_4", "vertical", "Freeway space outside 2 to 4 mm", "with a freeway space outside 2 to 4 mm", Case,
		practice + ": the usual taught value; unfair to long faces", noVertical, ""},
	{"vertical_from_unsound", "vertical", "Vertical copied from an unsound denture", "whose vertical was copied from a denture recorded as unsound", Case,
		practice, "the old denture was not recorded as unsound, or the basis of the vertical was not recorded", "Where the old denture's vertical is unsound, find rest first and work from it."},
	{"vertical_copied_rest_unmeasured", "vertical", "Vertical copied, rest never measured", "whose vertical was copied while rest was not recorded", Case,
		practice, "the basis of the vertical was not recorded", "Read rest even when the old vertical is to be kept."},
	{"does_not_add_up", "vertical", "Numbers that do not add up", "whose written freeway space differs by more than the setting from rest minus occlusion", Case,
		"arithmetic", "rest, occlusion and freeway space were not all written down", "Work the freeway space out from the two readings while the patient is still in the chair."},
	{"reading_ends_0_5", "vertical", "Vertical on a whole 5 mm", "whose vertical of occlusion stands on a whole 5 mm", Case,
		"a fifth of readings to 1 mm, a tenth to 0.5 mm, end so by chance", "no vertical of occlusion was recorded", "Read to the half millimetre and write down what the gauge says."},
	{"rest_denture_in", "vertical", "Rest read with a denture in", "whose rest was read with a denture in the mouth", Case,
		practice + ": both readings in the same state", "whether a denture was in was not recorded", "Take both readings in the same state, and write it down."},
	{"one_reading", "vertical", "One reading only", "read once at a site that takes repeats", Case,
		practice + ": repeat until two or three agree within 1 mm", "no single reading of rest or occlusion by the clinician was written down, or fewer than half of the site's cases with single readings have repeats", "Read twice, and a third time where the two differ by more than 1 mm."},
	{"repeats_apart", "vertical", "Repeats more than 1 mm apart", "whose repeated readings lay more than 1 mm apart", Case,
		practice + ": repeat until two or three agree within 1 mm", "neither rest nor occlusion was read twice by the clinician", "Read again until two or three readings agree within 1 mm."},
}

const noClearance = "the clearance was not recorded"

var tray = []Habit{
	{"clearance_over_2", "tray", "Tray with more than 2 mm of space", "from trays with more than 2 mm of space", Denture,
		practice + ": an even 1 to 2 mm for polyvinyl siloxane", noClearance, "Try the next smaller tray when more than 2 mm of space is left."},
	{"clearance_under_1", "tray", "Tray with less than 1 mm of space", "from trays with less than 1 mm of space", Denture,
		practice + ": an even 1 to 2 mm for polyvinyl siloxane", noClearance, "Try the next larger tray, or ease it, when less than 1 mm is left."},
	{"clearance_uneven", "tray", "Tray with uneven space", "from trays whose space differed by more than 1 mm", Denture,
		practice + ": even all round", noClearance, "Adapt the tray until the space is even."},
	{"partial_seating_used", "tray", "Partly seated tray still used", "from trays that did not seat fully and were still used", Denture,
		practice, "seating was not recorded", "Change or ease a tray that does not seat fully before the final impression."},
	{"discomfort_used", "tray", "Uncomfortable tray still used", "from trays that were uncomfortable at try-in and still used", Denture,
		practice, "discomfort was not recorded", "Find what presses before the final impression: a try-in is not uncomfortable."},
	{"touches_soft_palate", "tray", "Tray reached the soft palate", "from trays that reached the soft palate", Denture,
		practice, "contacts were not recorded, or the denture is a lower one", "Shorten a tray that reaches the soft palate."},
	{"touches_tuberosity", "tray", "Tray rode on the tuberosity", "from trays that touched the tuberosity", Denture,
		practice, "contacts were not recorded, or the denture is a lower one", "Try a wider tray where it rides on the tuberosity."},
	{"touches_ridge", "tray", "Tray rode on the ridge", "from trays that touched the ridge", Denture,
		practice, "contacts were not recorded", "Try another tray where it rides on the ridge."},
	{"palate_bulk", "tray", "Thick material over the palate", "with more material over the palate than the setting allows", Denture,
		practice, "the thickness was not recorded, or the denture is a lower one", "Look at the tray's height where material over the palate is thick."},
	{"first_tray_used", "tray", "First tray used", "made from the first tray tried", Denture, practice, "tries were not recorded", ""},
	{"sized_by_eye", "tray", "Tray sized by eye", "from trays sized by eye", Denture, practice, "how the size was chosen was not recorded", ""},
	{"old_denture_unused", "tray", "Tray not sized by the old denture", "from trays not sized by the old denture although there was one", Denture,
		practice + ": the inside of the tray is about the size of an existing denture", "there was no old denture, or how the size was chosen was not recorded", "Hold the tray against the old denture before trying it in."},
	{"single_phase", "tray", "Impression in a single phase", "from an impression in a single phase", Denture,
		practice + ": neither technique is known to be better", "the technique was not recorded", ""},
}

var display = []Habit{
	{"lip_not_recorded", "display", "Lip not recorded", "made without a recorded lip length", Case, practice, "never", "Write down the relaxed lip length before choosing the display."},
	{"display_far", "display", "Display far from what the lip suggests", "whose display target is more than 2 mm from what the lip length suggests", Case,
		"Vig & Brundo 1978, J Prosthet Dent 39:502-4 (values from memory; natural teeth)", "lip length or display target was not recorded, or the lip is under 10 or over 36 mm", "Note the reason when the display departs from what the lip suggests."},
}

var rest = []Habit{
	{"one_centric_take", "centric", "One centric record only", "made from a single centric record", Case, practice, "the number of centric records was not recorded", ""},
	{"centric_by_swallow", "centric", "Centric found by swallowing", "whose centric was found by swallowing", Case,
		"12 edentulous people, read in an abstract: swallowing repeated worse (SD 0.69 to 0.74 mm) than guided closure (0.52)", "the method was not recorded", "Check a swallowing record against guided closure."},
	{"no_remount", "centric", "No clinical remount", "delivered without a clinical remount", Denture, practice, "remount was not recorded", ""},
	{"rest_not_recorded", "paper", "Rest not recorded", "made without a recorded vertical of rest", Case, practice, "never", "Write down the vertical of rest."},
	{"clearance_not_recorded", "paper", "Tray space not recorded", "without the least and most space in the tray written down", Denture, practice, "never", "Write down the least and the most space in the tray."},
	{"late_delivery", "paper", "Delivered late", "delivered later after the records than the setting allows", Denture, practice, "never", ""},
}
