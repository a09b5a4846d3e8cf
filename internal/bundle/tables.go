package bundle

// Code lists that several columns share.
var (
	arches    = []string{"upper", "lower"}
	yesNo     = []string{"yes", "no"}
	yesNoUnk  = []string{"yes", "no", "unknown"}
	ageBands  = []string{"<50", "50-59", "60-69", "70-79", "80-89", "90+"}
	touchList = []string{"none", "tuberosity", "ridge", "soft_palate", "frenum", "border", "retromolar", "tongue"}

	upperZones = []string{"labial_sulcus", "labial_frenum", "buccal_frenum", "buccal_sulcus", "distobuccal", "tuberosity",
		"hamular_notch", "posterior_seal", "palate_midline", "palate_side", "incisive_papilla", "ridge_crest_front", "ridge_crest_back"}
	lowerZones = []string{"labial_sulcus", "labial_frenum", "buccal_frenum", "buccal_sulcus", "buccal_shelf", "distobuccal",
		"retromolar_pad", "retromylohyoid", "mylohyoid_ridge", "lingual_sulcus", "lingual_sulcus_front", "lingual_frenum",
		"ridge_crest_front", "ridge_crest_back", "mental_foramen", "genial", "torus"}
)

// between is a shorthand for the ranges below.
func between(lo, hi float64) *Range { return &Range{lo, hi} }

// Ranges that a records column shares with the readings of the same measure.
var (
	verticalHard, verticalSoft = between(30, 110), between(45, 90)
	lipHard, lipSoft           = between(0, 40), between(3, 30)
)

// MeasureRanges gives the hard and soft range of a reading by its measure.
func MeasureRanges(measure string) (hard, soft *Range) {
	switch measure {
	case "vdr", "vdo":
		return verticalHard, verticalSoft
	case "lip":
		return lipHard, lipSoft
	}
	return nil, nil
}

// allZones is the union of both arches' zones; the loader checks the arch's own.
func allZones() []string {
	seen := map[string]bool{}
	var zones []string
	for _, z := range append(Zones("upper"), Zones("lower")...) {
		if !seen[z] {
			seen[z] = true
			zones = append(zones, z)
		}
	}
	return zones
}

// caseKey is the case_id column of every table below cases.
func caseKey() Column {
	return Column{Name: "case_id", Kind: Text, Required: true, Meaning: "the case that the row belongs to"}
}

// archKey is the arch column of the tables with one row per arch.
func archKey() Column {
	return Column{Name: "arch", Kind: Code, Required: true, Codes: arches, Meaning: "the denture's arch"}
}

// Tables is the contract, parents before children.
var Tables = []Table{casesTable(), denturesTable(), recordsTable(), readingsTable(), traysTable(), visitsTable(), soreSpotsTable(), remakesTable()}

func casesTable() Table {
	return Table{Name: "cases", Meaning: "one row per course of treatment", Required: true, Key: []string{"case_id"}, Columns: []Column{
		{Name: "case_id", Kind: Text, Required: true, Meaning: "pseudonym of the case"},
		{Name: "patient_key", Kind: Text, Required: true, Meaning: "pseudonym of the patient; one patient may have several cases"},
		{Name: "site", Kind: Text, Required: true, Meaning: "clinic code"},
		{Name: "clinician", Kind: Text, Required: true, Meaning: "code of whoever took the records; outcomes are attributed to this code"},
		{Name: "lab", Kind: Text, Meaning: "code of the laboratory"},
		{Name: "records_on", Kind: Period, Required: true, Meaning: "when the records were taken, as fine as the privacy basis allows"},
		{Name: "age_band", Kind: AgeBand, Codes: ageBands, Meaning: "a plain age is banded on load, over 89 becomes 90+"},
		{Name: "sex", Kind: Code, Codes: []string{"female", "male", "other", "unknown"}, Meaning: "sex"},
		{Name: "ridge_class", Kind: Int, Hard: between(1, 4), Meaning: "Prosthodontic Diagnostic Index class for complete edentulism, 1-4"},
		{Name: "prior_denture", Kind: Code, Codes: []string{"none", "sound", "unsound", "unknown"}, Meaning: "sound: its vertical dimension is acceptable; unsound: it is not"},
		{Name: "course", Kind: Code, Codes: []string{"first", "replacement", "immediate", "remake", "unknown"}, Meaning: "kind of treatment"},
		{Name: "operator", Kind: Code, Codes: []string{"student", "resident", "qualified", "unknown"}, Meaning: "who took the records"},
		{Name: "remake_of", Kind: Text, Meaning: "case_id of the case that this one remakes"},
		{Name: "observed_to_day", Kind: Day, Unit: "d", Required: true, Hard: between(0, 36525), Meaning: "last day on which the case was under observation"},
		{Name: "observed_end", Kind: Code, Codes: []string{"export", "died", "moved", "discharged", "unknown"}, Meaning: "why observation ended; export: still observed when exported"},
	}}
}

func denturesTable() Table {
	return Table{Name: "dentures", Meaning: "one row per arch made", Required: true, Key: []string{"case_id", "arch"}, Parent: "cases", ParentBy: "case_id", Columns: []Column{
		caseKey(), archKey(),
		{Name: "delivered_day", Kind: Day, Unit: "d", Hard: between(0, 36525), Meaning: "day of delivery; empty = not delivered (yet)"},
		{Name: "base_method", Kind: Code, Codes: []string{"packed", "injected", "milled", "printed", "other", "unknown"}, Meaning: "how the base was made"},
		{Name: "scheme", Kind: Code, Codes: []string{"balanced", "lingualized", "monoplane", "other", "unknown"}, Meaning: "occlusal scheme"},
		{Name: "remount", Kind: Code, Codes: yesNoUnk, Meaning: "clinical remount at delivery"},
	}}
}

func recordsTable() Table {
	return Table{Name: "records", Meaning: "one row per case, what was decided at the records appointment", Required: true, Key: []string{"case_id"}, Parent: "cases", ParentBy: "case_id", Columns: []Column{
		caseKey(),
		{Name: "vdr_mm", Kind: Length, Unit: "mm", Hard: verticalHard, Soft: verticalSoft, Meaning: "vertical dimension of rest"},
		{Name: "vdo_mm", Kind: Length, Unit: "mm", Hard: verticalHard, Soft: verticalSoft, Meaning: "vertical dimension of occlusion chosen"},
		{Name: "freeway_mm", Kind: Length, Unit: "mm", Hard: between(-5, 20), Soft: between(0, 8), Meaning: "freeway space as written down, if it was; otherwise vdr - vdo is used"},
		{Name: "vertical_basis", Kind: Code, Codes: []string{"rest_minus_freeway", "existing_denture", "other", "unknown"}, Meaning: "what the vertical of occlusion was taken from"},
		{Name: "rest_method", Kind: Code, Codes: []string{"phonetic", "relaxed", "swallow", "fatigue", "other", "unknown"}, Meaning: "how rest was found"},
		{Name: "landmarks", Kind: Code, Codes: []string{"two_dots", "nose_chin", "other", "unknown"}, Meaning: "points that both verticals were read between"},
		{Name: "rest_denture_in", Kind: Code, Codes: yesNoUnk, Meaning: "a denture was in the mouth when rest was read"},
		{Name: "lip_mm", Kind: Length, Unit: "mm", Hard: lipHard, Soft: lipSoft, Meaning: "relaxed upper lip, incisive papilla region to lip border"},
		{Name: "display_target_mm", Kind: Length, Unit: "mm", Hard: between(-5, 12), Soft: between(-1, 6), Meaning: "upper incisor display asked for at rest"},
		{Name: "centric_method", Kind: Code, Codes: []string{"gothic_arch", "guided", "swallow", "other", "unknown"}, Meaning: "how centric relation was recorded"},
		{Name: "centric_takes", Kind: Int, Hard: between(1, 9), Meaning: "centric records taken, the one used counted"},
	}}
}

func readingsTable() Table {
	return Table{Name: "readings", Meaning: "optional, one row per single reading, for repeatability", Key: []string{"case_id", "measure", "take", "reader"}, Parent: "cases", ParentBy: "case_id", Columns: []Column{
		caseKey(),
		{Name: "measure", Kind: Code, Required: true, Codes: []string{"vdr", "vdo", "lip"}, Meaning: "what was read"},
		{Name: "take", Kind: Int, Required: true, Hard: between(1, 99), Meaning: "order of the reading within the case and measure"},
		{Name: "value_mm", Kind: Length, Unit: "mm", Required: true, Meaning: "the reading; ranges as for the matching column of records"},
		{Name: "reader", Kind: Text, Meaning: "code of the person who read it; empty = the case's clinician"},
	}}
}

func traysTable() Table {
	return Table{Name: "trays", Meaning: "one row per arch, the tray used for the final impression", Required: true, Key: []string{"case_id", "arch"}, Parent: "cases", ParentBy: "case_id", Columns: []Column{
		caseKey(), archKey(),
		{Name: "size", Kind: Code, Codes: []string{"small", "medium", "large", "extra_large"}, Meaning: "size of the tray"},
		{Name: "sized_by", Kind: Code, Codes: []string{"existing_denture", "measured", "eye", "unknown"}, Meaning: "how the size was chosen"},
		{Name: "clearance_min_mm", Kind: Length, Unit: "mm", Hard: between(0, 15), Soft: between(0.5, 6), Meaning: "least space between tray and tissue"},
		{Name: "clearance_max_mm", Kind: Length, Unit: "mm", Hard: between(0, 15), Soft: between(0.5, 6), Meaning: "most space between tray and tissue; at least the least"},
		{Name: "palate_mm", Kind: Length, Unit: "mm", Hard: between(0, 20), Soft: between(1, 8), Meaning: "upper only: thickness of set material over the palate"},
		{Name: "seating", Kind: Code, Codes: []string{"full", "partial", "unknown"}, Meaning: "how the tray sat"},
		{Name: "touches", Kind: Codes, Codes: touchList, Meaning: "none, or where the tray touched"},
		{Name: "discomfort", Kind: Code, Codes: yesNoUnk, Meaning: "the patient found the try-in uncomfortable"},
		{Name: "tries", Kind: Int, Hard: between(1, 9), Meaning: "trays tried before this one was chosen, this one counted"},
		{Name: "technique", Kind: Code, Codes: []string{"two_viscosity", "single_phase", "other", "unknown"}, Meaning: "impression technique"},
	}}
}

func visitsTable() Table {
	return Table{Name: "visits", Meaning: "one row per aftercare visit", Required: true, Key: []string{"visit_id"}, Parent: "cases", ParentBy: "case_id", Columns: []Column{
		{Name: "visit_id", Kind: Text, Required: true, Meaning: "pseudonym of the visit"},
		caseKey(),
		{Name: "day", Kind: Day, Unit: "d", Required: true, Hard: between(0, 36525), Meaning: "day of the visit"},
		{Name: "arch", Kind: Code, Codes: []string{"upper", "lower", "both"}, Meaning: "empty = not recorded; then it counts for the case, not for a denture"},
		{Name: "reason", Kind: Code, Codes: []string{"planned", "complaint", "urgent", "unknown"}, Meaning: "why the patient came"},
		{Name: "adjusted", Kind: Code, Required: true, Codes: yesNo, Meaning: "something on the denture was altered"},
		{Name: "minutes", Kind: Int, Unit: "min", Hard: between(0, 480), Meaning: "chair time"},
		{Name: "complaints", Kind: Codes, Codes: []string{"none", "sore", "loose", "speech", "bite", "gagging", "shows_too_much", "shows_too_little", "too_tall", "too_short", "broken", "looks", "other"}, Meaning: "what the patient complained of"},
		{Name: "lesion_review", Kind: Code, Codes: yesNo, Meaning: "a soft-tissue lesion was examined or referred on at this visit"},
	}}
}

func soreSpotsTable() Table {
	return Table{Name: "sore_spots", Meaning: "one row per sore spot seen at a visit", Required: true, Parent: "visits", ParentBy: "visit_id", Columns: []Column{
		{Name: "visit_id", Kind: Text, Required: true, Meaning: "the visit at which it was seen"},
		archKey(),
		{Name: "zone", Kind: Code, Required: true, Codes: allZones(), Meaning: "where on the denture's bed; each arch has its own list"},
		{Name: "side", Kind: Code, Codes: []string{"left", "right", "middle"}, Meaning: "the patient's own side"},
		{Name: "grade", Kind: Int, Hard: between(1, 3), Meaning: "1 reddened, 2 broken surface, 3 ulcer"},
	}}
}

func remakesTable() Table {
	return Table{Name: "remakes", Meaning: "one row per remake, reline, rebase or tooth reset", Required: true, Parent: "cases", ParentBy: "case_id", Columns: []Column{
		caseKey(), archKey(),
		{Name: "day", Kind: Day, Unit: "d", Required: true, Hard: between(0, 36525), Meaning: "day it was done"},
		{Name: "scope", Kind: Code, Required: true, Codes: []string{"remake", "reline", "rebase", "reset"}, Meaning: "what was done"},
		{Name: "cause", Kind: Code, Codes: []string{"fit", "vertical", "bite", "display", "pain", "breakage", "loss", "wear", "unknown"}, Meaning: "why"},
	}}
}
