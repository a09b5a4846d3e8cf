package page

import (
	"fmt"
	"strings"
	"unicode"

	"afterfit/internal/bundle"
	"afterfit/internal/review"
)

// This file is the catalogue of names that readers see. A word for an outcome, a
// dimension, a measurement, a band or a zone stands here and nowhere else.

// words looks names up.
type words struct {
	habitName func(id string) (title, sentence string)
	labels    bool // clinicians are named
}

func (w words) habit(id string) string {
	if w.habitName != nil {
		if title, _ := w.habitName(id); title != "" {
			return isolated(title)
		}
	}
	return isolated(sentenceCase(spaced(id)))
}

func (w words) habitSentence(id string) string {
	if w.habitName == nil {
		return ""
	}
	_, s := w.habitName(id)
	return s
}

// outcome says how an outcome is called and told. More and Verb tell a difference:
// counts had "31 more adjustment visits per 100 dentures", shares "were remade
// within a year" so many percentage points more often.
type outcome struct {
	Title, Noun, Verb, Definition string
}

var outcomes = map[string]outcome{
	review.Adjustments: {"Adjustment visits", "adjustment visits", "", "Visits at which the denture was adjusted, from delivery to day 90, per 100 dentures. A visit at which both dentures were adjusted counts once for each."},
	review.SoreSpots:   {"Early sore spots", "early sore spots", "", "Sore spots recorded from delivery to day 30, per 100 dentures."},
	review.Ulcer:       {"An ulcer in the first month", "", "had an ulcer recorded in the first 30 days", "Share of dentures with a sore spot of grade 3 (ulcer) recorded from delivery to day 30."},
	review.Remake:      {"Remade within a year", "", "were remade within a year", "Share of dentures replaced by a new base or new teeth in the same arch within 365 days of delivery; lost and broken dentures do not count. Death counts as a competing end, not as a remake avoided."},
	review.Reline:      {"Relined or rebased within a year", "", "were relined or rebased within a year", "Share of dentures relined or rebased within 365 days of delivery, death competing."},
	review.Display:     {"Complaint about looks", "", "led to a complaint about looks", "Share of dentures with a complaint about tooth display, length or appearance within 180 days of delivery."},
	review.Vertical:    {"Complaint about height or bite", "", "led to a complaint about height or bite", "Share of dentures with a complaint that points at the vertical dimension within 180 days of delivery."},
	review.Minutes:     {"Chair time on adjustments", "minutes of chair time on adjustments", "", "Minutes of chair time on adjustment visits, from delivery to day 90, per denture."},
}

func outcomeOf(id string) outcome {
	if o, ok := outcomes[id]; ok {
		return o
	}
	return outcome{Title: sentenceCase(spaced(id)), Noun: spaced(id)}
}

var dimensions = map[string]string{"arch": "arch", "site": "site", "clinician": "clinician", "ridge_class": "ridge class", "quarter": "quarter of records"}

var exposures = map[string]outcome{
	"freeway":    {Title: "Freeway space", Noun: "freeway space", Definition: "Vertical dimension at rest less vertical dimension in occlusion, in mm, as recorded. A difference of two soft readings: about 1 mm either way is reading error."},
	"clearance":  {Title: "Tray clearance", Noun: "tray clearance", Definition: "The largest recorded gap between the tray and the tissue, in mm."},
	"seating":    {Title: "How the tray seated", Noun: "tray seating", Definition: "How the tray that was used sat at try-in, as recorded."},
	"discomfort": {Title: "Discomfort at try-in", Noun: "discomfort at tray try-in", Definition: "Discomfort that the patient reported when the tray was tried in."},
	"display":    {Title: "Tooth display asked for", Noun: "tooth display", Definition: "Upper front tooth shown below the resting lip, in mm, as asked for."},
}

func exposureOf(id string) outcome {
	if e, ok := exposures[id]; ok {
		return e
	}
	return outcome{Title: sentenceCase(spaced(id)), Noun: spaced(id)}
}

// quantity says how a measured quantity is told: as a thing, and at a value of it.
type quantity struct{ Noun, At, Below, Along, Definition string }

// at is a value of the quantity; one below zero has words of its own where the catalogue
// has them.
func (x quantity) at(mm review.Num) string {
	if mm < 0 && x.Below != "" {
		return fmt.Sprintf(x.Below, millimetres(-mm))
	}
	return fmt.Sprintf(x.At, millimetres(mm))
}

var quantities = map[string]quantity{
	"freeway_mm":       {"freeway space", "at %s mm of freeway space", "", "freeway space, mm", exposures["freeway"].Definition},
	"clearance_max_mm": {"space in the tray", "with %s mm of space in the tray", "", "most space in the tray, mm", exposures["clearance"].Definition},
	"display_off_mm":   {"display beyond what the lip suggests", "with %s mm more display than the lip suggests", "with %s mm less display than the lip suggests", "display asked for less suggested, mm", "Upper front tooth display asked for less what the lip length suggests (Vig & Brundo 1978, natural teeth, from memory), in mm; below zero: less display than suggested."},
}

func quantityOf(column string) quantity {
	if x, ok := quantities[column]; ok {
		return x
	}
	name := strings.TrimSuffix(spaced(column), " mm")
	return quantity{Noun: name, At: "at %s mm of " + name, Along: name + ", mm"}
}

// value names one value of a dimension or band. Codes of the practice's own, such as
// sites, stand as they are.
func value(dimension, code string) string {
	switch {
	case code == "" || code == "not_recorded" || code == "missing":
		return "not recorded"
	case dimension == "site" || dimension == "clinician":
		return isolated(code)
	case dimension == "ridge_class":
		return "class " + isolated(code)
	}
	return isolated(spaced(code))
}

// isolated keeps a name that is not plain ASCII from turning the direction of the
// sentence round it: it stands between U+2068 and U+2069, which also end what it
// leaves open.
func isolated(s string) string {
	for _, r := range s {
		if r > unicode.MaxASCII {
			return "\u2068" + s + "\u2069"
		}
	}
	return s
}

// label is a value's name at the start of a line; a practice's own codes keep their
// spelling.
func label(dimension, code string) string {
	if s := value(dimension, code); s != "not recorded" && (dimension == "site" || dimension == "clinician") {
		return s
	}
	return sentenceCase(value(dimension, code))
}

func notRecorded(code string) bool { return value("", code) == "not recorded" }

var zones = map[string]string{
	"labial_sulcus": "front (labial) sulcus", "labial_frenum": "front (labial) frenum", "buccal_frenum": "cheek (buccal) frenum",
	"buccal_sulcus": "cheek (buccal) sulcus", "distobuccal": "back of the cheek sulcus (distobuccal)", "tuberosity": "tuberosity",
	"hamular_notch": "hamular notch", "posterior_seal": "posterior seal", "palate_midline": "middle of the palate",
	"palate_side": "side of the palate", "incisive_papilla": "incisive papilla", "ridge_crest_front": "ridge crest, front",
	"ridge_crest_back": "ridge crest, back", "buccal_shelf": "buccal shelf", "retromolar_pad": "retromolar pad",
	"retromylohyoid": "retromylohyoid area", "mylohyoid_ridge": "mylohyoid ridge", "lingual_sulcus": "tongue-side (lingual) sulcus",
	"lingual_sulcus_front": "tongue-side sulcus, front", "lingual_frenum": "tongue (lingual) frenum", "mental_foramen": "mental foramen",
	"genial": "genial tubercles", "torus": "torus",
}

// placeName is "lower tongue-side (lingual) sulcus, patient's left".
func placeName(arch, zone, side string) string { return arch + " " + placeOf(zone, side) }

// placeHead is over the places of a table, which name a side without saying whose.
const placeHead = "Place, on the patient’s own side"

// placeCell is a place in a table under placeHead.
func placeCell(name string) string { return sentenceCase(strings.Replace(name, "patient’s ", "", 1)) }

// zoneOf is a zone of both sides together.
func zoneOf(zone string) string {
	if name, ok := zones[zone]; ok {
		return name
	}
	return spaced(zone)
}

func placeOf(zone, side string) string {
	name := zoneOf(zone)
	switch side {
	case "left", "right":
		name += ", patient’s " + side
	case "middle":
		name += ", middle"
	default:
		name += ", side not recorded"
	}
	return name
}

// fieldName is the contract's own meaning of a column.
func fieldName(tableName, columnName string) string {
	if t, ok := bundle.Find(tableName); ok {
		if c, ok := t.Column(columnName); ok && c.Meaning != "" {
			return sentenceCase(c.Meaning)
		}
	}
	return sentenceCase(spaced(columnName))
}

var bases = map[string]string{
	"safe_harbor":      "de-identified (Safe Harbor)",
	"limited_data_set": "limited data set, under a data use agreement",
	"consented_local":  "local use with consent",
}

func basisName(id string) string {
	if b, ok := bases[id]; ok {
		return b
	}
	if id == "" {
		return "not stated"
	}
	return spaced(id)
}

var cautions = []string{
	"Association is not cause: a habit that goes with trouble may stand for something else about the patient, the site or the period.",
	"The purpose is learning. These figures are not for disciplinary use on their own.",
	"A sore place that persists is to be examined: NICE NG12 asks to consider a suspected-cancer referral for an unexplained mouth ulcer of more than 3 weeks; looking again 7 to 14 days after easing is common practice. These pages never diagnose.",
	"Whether these data may be used, and who may see these pages, is for local law and whoever is responsible for privacy to say; the checks at loading do not decide it.",
	"Local rules and the licensed judgement of whoever treats the patient come first.",
	"This page promises no legal privilege: ask locally how review papers are protected before passing it on.",
}

func spaced(id string) string { return strings.ReplaceAll(id, "_", " ") }

func sentenceCase(s string) string {
	if s == "" || s[0] < 'a' || s[0] > 'z' {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}
