package blank

import "afterfit/internal/bundle"

// labels says in a few words what is asked for, for the headings of the workbook and
// the paper form; the contract's Meaning says it in full.
var labels = map[string]map[string]string{
	"cases": {
		"case_id": "Case", "patient_key": "Patient key", "site": "Site", "clinician": "Records taken by", "lab": "Laboratory", "records_on": "Records taken in",
		"age_band": "Age band", "sex": "Sex", "ridge_class": "Ridge class (1-4)", "prior_denture": "Present denture's vertical", "course": "Treatment", "operator": "Operator",
		"remake_of": "Remake of case", "observed_to_day": "Observed to day", "observed_end": "Why observation ended",
	},
	"dentures": {
		"case_id": "Case", "arch": "Arch", "delivered_day": "Delivered on day", "base_method": "Base", "scheme": "Occlusal scheme", "remount": "Clinical remount",
	},
	"records": {
		"case_id": "Case", "vdr_mm": "Vertical dimension of rest", "vdo_mm": "Vertical dimension of occlusion", "freeway_mm": "Freeway space, if written down",
		"vertical_basis": "Vertical taken from", "rest_method": "How rest was found", "landmarks": "Read between", "rest_denture_in": "Denture in at rest",
		"lip_mm": "Upper lip, relaxed", "display_target_mm": "Incisor display asked for", "centric_method": "Centric relation by", "centric_takes": "Centric records taken",
	},
	"readings": {
		"case_id": "Case", "measure": "Measure", "take": "Take", "value_mm": "Reading", "reader": "Read by",
	},
	"trays": {
		"case_id": "Case", "arch": "Arch", "size": "Size", "sized_by": "Size chosen by", "clearance_min_mm": "Least clearance", "clearance_max_mm": "Most clearance",
		"palate_mm": "Over the palate (upper)", "seating": "Seating", "touches": "Touched", "discomfort": "Uncomfortable", "tries": "Trays tried", "technique": "Impression",
	},
	"visits": {
		"visit_id": "Visit", "case_id": "Case", "day": "Day", "arch": "Arch", "reason": "Reason", "adjusted": "Adjusted", "minutes": "Minutes", "complaints": "Complaints",
		"lesion_review": "Lesion examined",
	},
	"sore_spots": {
		"visit_id": "Visit", "arch": "Arch", "zone": "Zone", "side": "Side", "grade": "Grade",
	},
	"remakes": {
		"case_id": "Case", "arch": "Arch", "day": "Day", "scope": "What was done", "cause": "Cause",
	},
}

// label is the heading of a column: what it is, and its unit.
func label(t bundle.Table, c bundle.Column) string {
	text := labels[t.Name][c.Name]
	switch c.Unit {
	case "":
		return text
	case "d":
		return text + " (days from the records)"
	}
	return text + " (" + c.Unit + ")"
}

// help is the instruction sheet, one line a row.
var help = []string{
	"How to fill in this workbook",
	"",
	"1. One sheet for each table, one line for each row: cases, dentures, records, readings, trays, visits, sore_spots, remakes.",
	"   Type below the second line. Leave the two heading lines and the names of the sheets as they are.",
	"2. Day 0 is the day on which the records were taken. Every other day is a number of days from it, never a date.",
	"3. Lengths are millimetres, with at most two decimals. An empty cell means: not recorded.",
	"4. Many cells offer a list of words; use these words only. Where several apply, join them by | as in ridge|border.",
	"   Select a cell to see what belongs there.",
	"5. Every row names its case; the case itself stands on the sheet cases. A sore spot names its visit.",
	"6. Write no names, no dates of birth, no telephone numbers, no chart numbers. A case, a patient and a clinician have",
	"   made-up keys; who they are is kept elsewhere. Local rules and whoever is responsible for privacy come first.",
	"7. On the sheet bundle, say on which privacy basis the data stand: safe_harbor, limited_data_set or consented_local.",
	"   Say yes at complete only if cases that are no longer in the workbook are to be withdrawn.",
	"8. Save the workbook as XLSX and load it: afterfit load WORKBOOK.xlsx",
	"",
	"Example of a line on the sheet records (invented): case K1, rest 65.5, occlusion 62.5, freeway 3, rest_minus_freeway, phonetic",
}
