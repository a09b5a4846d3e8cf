// Package habit is the catalogue of record-taking habits: what each one is, in
// words for clinicians, where it comes from and when it cannot be assessed. The
// column of linked_dentures that holds a habit is "h_" and its id; the statement
// queries/link_dentures.sql says how each is worked out.
package habit

import (
	"slices"
	"strings"

	"afterfit/internal/wording"
)

// Unit is what a habit is counted in.
type Unit string

// A habit of the impression or the delivery belongs to a denture, one of the
// records appointment to a case.
const (
	Denture Unit = "denture"
	Case    Unit = "case"
)

// practice marks what is common practice and has no published source.
var practice = text("source.*", "practice")

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

var vertical = []Habit{
	named("freeway_low", "vertical", Case),
	named("freeway_high", "vertical", Case),
	named("freeway_not_2_4", "vertical", Case),
	named("vertical_from_unsound", "vertical", Case),
	named("vertical_copied_rest_unmeasured", "vertical", Case),
	named("does_not_add_up", "vertical", Case),
	named("reading_ends_0_5", "vertical", Case),
	named("rest_denture_in", "vertical", Case),
	named("one_reading", "vertical", Case),
	named("repeats_apart", "vertical", Case),
}

var tray = []Habit{
	named("clearance_over_2", "tray", Denture),
	named("clearance_under_1", "tray", Denture),
	named("clearance_uneven", "tray", Denture),
	named("partial_seating_used", "tray", Denture),
	named("discomfort_used", "tray", Denture),
	named("touches_soft_palate", "tray", Denture),
	named("touches_tuberosity", "tray", Denture),
	named("touches_ridge", "tray", Denture),
	named("palate_bulk", "tray", Denture),
	named("first_tray_used", "tray", Denture),
	named("sized_by_eye", "tray", Denture),
	named("old_denture_unused", "tray", Denture),
	named("single_phase", "tray", Denture),
}

var display = []Habit{
	named("lip_not_recorded", "display", Case),
	named("display_far", "display", Case),
}

var rest = []Habit{
	named("one_centric_take", "centric", Case),
	named("centric_by_swallow", "centric", Case),
	named("no_remount", "centric", Denture),
	named("rest_not_recorded", "paper", Case),
	named("clearance_not_recorded", "paper", Denture),
	named("late_delivery", "paper", Denture),
}

// named is a habit whose words stand in the catalogue.
func named(id, group string, unit Unit) Habit {
	advice, _ := wording.English().Named("habit.*.advice", id)
	return Habit{id, group, text("habit.*.title", id), text("habit.*.sentence", id), unit, text("habit.*.source", id), text("habit.*.not_assessable", id), advice}
}

// text is a text of the catalogue in English, as findings carry it; a page finds it in its
// own language again. A key that the catalogue lacks ends the program at its start, so
// that no test passes without it.
func text(pattern, id string) string {
	s, ok := wording.English().Named(pattern, id)
	if !ok {
		panic("the catalogue of words has no " + strings.Replace(pattern, "*", id, 1))
	}
	return s
}

// capital begins a text with a capital.
func capital(s string) string { return strings.ToUpper(s[:1]) + s[1:] }
