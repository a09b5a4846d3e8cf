package page

import (
	"strings"

	"afterfit/internal/review"
)

// This file holds the words of the case audit: names of record fields, rules and
// questions.

var fieldTitles = map[string]string{
	"freeway_mm": "Freeway space", "vdr_mm": "Vertical dimension of rest", "vdo_mm": "Vertical dimension of occlusion", "lip_mm": "Relaxed upper lip",
	"display_target_mm": "Tooth display asked for", "centric_takes": "Centric records taken", "clearance_min_mm": "Least tray clearance",
	"clearance_max_mm": "Most tray clearance", "palate_mm": "Material over the palate", "tries": "Trays tried",
	"vertical_basis": "Basis of the vertical", "rest_method": "How rest was found", "landmarks": "Points measured between", "rest_denture_in": "Denture in when rest was read",
	"centric_method": "How centric relation was recorded", "size": "Tray size", "sized_by": "What the tray was sized by", "seating": "How the tray sat", "touches": "Where the tray touched",
	"discomfort": "Discomfort at try-in", "technique": "Impression technique", "base_method": "How the base was made", "scheme": "Occlusal scheme", "remount": "Clinical remount",
}

func fieldTitle(field string) string {
	if t, ok := fieldTitles[field]; ok {
		return t
	}
	if field == "" {
		return "Value"
	}
	return sentenceCase(spaced(field))
}

func unitOfField(field string) string {
	if strings.HasSuffix(field, "_mm") {
		return " mm"
	}
	return ""
}

var operators = map[string]string{"student": "a student", "resident": "a resident", "qualified": "qualified staff", "unknown": "somebody not known"}

var grades = map[int64]string{1: "reddened", 2: "surface broken", 3: "ulcer"}

func spotGrade(g int64) string {
	if w, ok := grades[g]; ok {
		return w
	}
	return "grade " + count(g)
}

var ends = map[string]string{"export": "still observed when exported", "died": "the patient died", "moved": "the patient moved", "discharged": "discharged", "remade": "remade"}

func endWord(code string) string {
	if w, ok := ends[code]; ok {
		return w
	}
	if code == "" || code == "unknown" {
		return "reason not known"
	}
	return isolated(spaced(code))
}

var repairs = map[string]string{"reline": "relined", "rebase": "rebased", "reset": "its teeth reset", "remake": "remade"}

func repairVerb(scope string) string {
	if w, ok := repairs[scope]; ok {
		return w
	}
	return isolated(spaced(scope))
}

var likeWords = map[string]string{"ridge_prior": "arch, ridge class and prior denture", "ridge": "arch and ridge class", "arch": "arch"}

func likeWord(level string) string {
	if w, ok := likeWords[level]; ok {
		return w
	}
	return spaced(level)
}

var rules = map[string]string{
	review.PickWorst:  "among the cases followed through the first 90 days, it needed most adjustment visits beyond those of dentures like its own",
	review.PickBest:   "among the cases followed through the first 90 days, it needed fewest adjustment visits against dentures like its own",
	review.PickRandom: "chance picked it, from the seed given",
	review.PickHabit:  "it shows the habit asked for; those with most adjustment visits come first",
	review.PickZone:   "it was sore at the place asked for; those with most spots there come first",
	review.PickRemake: "a denture was remade and no cause is recorded",
	review.PickLesion: "a place was sore at visits 14 or more days apart and no review is recorded",
}

// ruleSentence says why a case was picked, "" for one that was named.
func ruleSentence(rule string, place int) string {
	why, ok := rules[rule]
	if !ok {
		return ""
	}
	return "Picked by the rule “" + spaced(rule) + "”, number " + count(int64(place)) + ": " + why + "."
}

// AuditReason is the rule in words, for a terminal; "" for a case that was named.
func AuditReason(a *review.Audit) string { return rules[a.Rule] }

var beforeQuestions = []string{
	"Which of these records would you want to take again before going on, and why?",
	"How many adjustment visits do you expect for each denture in the first 90 days?",
	"Where on the denture’s bed do you expect soreness?",
	"Would you have gone on to delivery?",
}

// asks puts one question of the audit about all that the case gives cause to ask it of:
// one question with a list is discussed, ten alike are skipped.
func (w words) asks(id string, about []string) []string {
	if len(about) > 1 {
		if text := w.askOfAll(id, about); text != "" {
			return []string{text}
		}
	}
	out := make([]string, len(about))
	for i, x := range about {
		out[i] = w.ask(id, x)
	}
	return out
}

// ask puts one question about one thing: an arch, a place, a field or a habit.
func (w words) ask(id, about string) string {
	switch id {
	case review.AskReview:
		return "Check first: was the " + askedPlace(about) + " examined after it was last seen sore, and where is that recorded?"
	case review.AskRecord:
		return sentenceCase(valueName("", about)) + " is not recorded: how was the choice made without it?"
	case review.AskHabit:
		return "The records show “" + w.habit(about) + "”. Was there a reason in this case, and would a note have helped whoever came after?"
	case review.AskMore:
		return "The " + about + " needed more visits than dentures like it. What, in the records or at the chair, could have told so before delivery?"
	case review.AskFewer:
		return "The " + about + " needed fewer visits than dentures like it. What was done here that is worth repeating?"
	case review.AskAgain:
		return "The " + askedPlace(about) + " was sore at more than one visit. Was the cause sought, or only the spot eased?"
	case review.AskCause:
		return "The " + about + " was remade and no cause is recorded. What was it, and could the records have shown it?"
	case review.AskSimilar:
		return "Look at the nearest cases: what was done differently where less was needed?"
	}
	return "What would you keep, and what would you do differently next time?"
}

// askOfAll puts a question about several things at once, "" where it has no such form.
func (w words) askOfAll(id string, about []string) string {
	switch id {
	case review.AskReview:
		return "Check first: was each of these places examined after it was last seen sore, and where is that recorded? " + sentenceCase(enumerated(about, "; ", askedPlace)) + "."
	case review.AskRecord:
		return "Not recorded: " + enumerated(about, "; ", func(field string) string { return lowerFirst(valueName("", field)) }) + ". How was the choice made without them?"
	case review.AskHabit:
		return "The records show " + enumerated(about, ", ", func(habit string) string { return "“" + w.habit(habit) + "”" }) + ". Was there a reason in this case, and would a note have helped whoever came after?"
	case review.AskMore:
		return "Both dentures needed more visits than dentures like them. What, in the records or at the chair, could have told so before delivery?"
	case review.AskFewer:
		return "Both dentures needed fewer visits than dentures like them. What was done here that is worth repeating?"
	case review.AskAgain:
		return "These places were sore at more than one visit. Was the cause sought, or only the spot eased? " + sentenceCase(enumerated(about, "; ", askedPlace)) + "."
	}
	return ""
}

// askedPlace names what a question says as arch|zone|side.
func askedPlace(about string) string {
	arch, rest, _ := strings.Cut(about, "|")
	zone, side, _ := strings.Cut(rest, "|")
	return placeName(arch, zone, side)
}

func enumerated(items []string, between string, name func(string) string) string {
	names := make([]string, len(items))
	for i, item := range items {
		names[i] = name(item)
	}
	return strings.Join(names, between)
}

var auditDefinitions = []definition{
	{"Like dentures", "Delivered dentures of other patients with the same arch, ridge class and prior denture. Where fewer than the least number share all three (10 unless set otherwise), the prior denture is let go, then the ridge class. Not recorded is a class of its own."},
	{"As many or more", "Of the like dentures followed at least as long, up to the end of the window, the share that needed at least as many in that time."},
	{"House, middle nine tenths", "From the 5th to the 95th percentile of every case loaded, by linear interpolation."},
	{"Usual", "A range of common practice or from a publication, as the table says; elsewhere there is no published value and only local data."},
	{"Patterns", "Two or more spots, all on the border; two or more spots on the ridge crest, all left or all right; the ridge crests of both dentures sore left and right; three or more visits with spots and no place sore twice."},
	{"Interval", "The range of values that the data fits about as well as the figure itself, at the stated level."},
}
