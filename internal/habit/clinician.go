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
	{"same_freeway", "vertical", "The same freeway space in nearly every case", "records the same freeway space in nearly every case", "freeway_mm",
		"If all patients had one and the same freeway space, the error of two readings alone would still spread the records; the share of one value is compared with what that leaves at the most.",
		"arithmetic, with a reading error of 0.7 mm unless set otherwise (working figure: 0.5 to 1.0 mm)", "fewer cases with a freeway space than the setting asks for",
		"Whoever works the vertical out by taking a fixed space from rest will show this too: it says that the space was chosen, not read."},
	{"same_display", "display", "The same display in nearly every case", "asks for the same display in nearly every case", "display_target_mm",
		"The share of one target is compared with the largest share of one suggested display among the same clinician's patients by their lip length.",
		"Vig & Brundo 1978, J Prosthet Dent 39:502-4 (values from memory; natural teeth)", "fewer cases with both a lip length and a display target than the setting asks for",
		"A patient's own wish may be the reason for a target."},
	{"first_tray_always", "tray", "The first tray nearly always", "uses the first tray tried nearly always", "tries",
		"The share of first trays is compared with that of all other clinicians together.",
		practice, "fewer dentures with tries recorded than the setting asks for, or no other clinician recorded them",
		"Trays sized by an old denture may well fit at once."},
}

// FindClinicianHabit returns the clinician habit of that id.
func FindClinicianHabit(id string) (ClinicianHabit, bool) {
	i := slices.IndexFunc(ClinicianHabits, func(h ClinicianHabit) bool { return h.ID == id })
	if i < 0 {
		return ClinicianHabit{}, false
	}
	return ClinicianHabits[i], true
}
