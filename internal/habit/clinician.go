package habit

import "slices"

// ClinicianHabit is a habit that no single case shows: one value written again and
// again. It is seen in a clinician's cases taken together, and judged against how
// often one value would come up in someone who reads each patient.
type ClinicianHabit struct {
	ID            string
	Group         string // as in Habit
	Title         string
	Sentence      string // as the end of "This clinician ..."
	Quantity      string // in the query clinician_modes
	Rule          string // what share would be expected, in one sentence
	Source        string
	NotAssessable string
	Caution       string
}

// ClinicianHabits lists them in the order in which pages show them.
var ClinicianHabits = []ClinicianHabit{
	ofClinicians("same_freeway", "vertical", "freeway_mm"),
	ofClinicians("same_display", "display", "display_target_mm"),
	ofClinicians("first_tray_always", "tray", "tries"),
}

// FindClinicianHabit returns the clinician habit of that id.
func FindClinicianHabit(id string) (ClinicianHabit, bool) {
	i := slices.IndexFunc(ClinicianHabits, func(h ClinicianHabit) bool { return h.ID == id })
	if i < 0 {
		return ClinicianHabit{}, false
	}
	return ClinicianHabits[i], true
}

// ofClinicians is a clinician habit whose words stand in the catalogue.
func ofClinicians(id, group, quantity string) ClinicianHabit {
	return ClinicianHabit{id, group, text("clinician_habit.*.title", id), text("clinician_habit.*.sentence", id), quantity, text("clinician_habit.*.rule", id),
		text("clinician_habit.*.source", id), text("clinician_habit.*.not_assessable", id), text("clinician_habit.*.caution", id)}
}
