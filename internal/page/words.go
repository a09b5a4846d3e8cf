package page

import (
	"strings"
	"unicode"
	"unicode/utf8"

	"afterfit/internal/bundle"
	"afterfit/internal/review"
	"afterfit/internal/wording"
)

// This file looks up the names that readers see: of an outcome, a dimension, a
// measurement, a band or a zone. They stand in the catalogue and nowhere else.

// words is a page's language, and whom it may name.
type words struct {
	*wording.Catalogue
	labels bool // clinicians are named
}

func (w words) habit(id string) string {
	return w.or("habit.*.title", id, isolated(sentenceCase(spaced(id))))
}

// habitSentence is what was done, as the end of a sentence that begins with "Dentures".
func (w words) habitSentence(id string) string {
	s, _ := w.Named("habit.*.sentence", id)
	return s
}

// outcomeName is an outcome's name within a sentence.
func (w words) outcomeName(id string) string { return w.or("outcome.*.name", id, spaced(id)) }

// outcomeTitle is an outcome's name at the start of a line.
func (w words) outcomeTitle(id string) string { return sentenceCase(w.outcomeName(id)) }

func (w words) outcomeDefinition(id string) string { return w.or("outcome.*.definition", id, "") }

// or is a message by its id, or else a text for an id that the catalogue does not know.
func (w words) or(pattern, id, otherwise string) string {
	if s, ok := w.Named(pattern, id); ok {
		return s
	}
	return otherwise
}

func (w words) dimension(id string) string { return w.or("dimension.*", id, spaced(id)) }

func (w words) exposureNoun(id string) string { return w.or("exposure.*.noun", id, spaced(id)) }

func (w words) exposureTitle(id string) string {
	return w.or("exposure.*.title", id, sentenceCase(spaced(id)))
}

// quantity says how a measured quantity is told.
type quantity struct {
	w      words
	column string
}

func (w words) quantityOf(column string) quantity { return quantity{w, column} }

// Noun is the quantity as a thing.
func (x quantity) noun() string {
	return x.w.or("quantity.*.noun", x.column, strings.TrimSuffix(spaced(x.column), " mm"))
}

// at is a value of the quantity; one below zero has words of its own where the catalogue
// has them.
func (x quantity) at(mm review.Num) string {
	if mm < 0 {
		if s, ok := x.w.Named("quantity.*.below", x.column, "mm", x.w.millimetres(-mm)); ok {
			return s
		}
	}
	if s, ok := x.w.Named("quantity.*.at", x.column, "mm", x.w.millimetres(mm)); ok {
		return s
	}
	return x.w.Say("other_quantity.at", "mm", x.w.millimetres(mm), "name", x.noun())
}

// along is the name of its axis.
func (x quantity) along() string {
	return x.w.or("quantity.*.along", x.column, x.w.Say("other_quantity.along", "name", x.noun()))
}

func (x quantity) definition() string { return x.w.or("quantity.*.definition", x.column, "") }

// value names one value of a dimension or band. Codes of the practice's own, such as
// sites, stand as they are.
func (w words) value(dimension, code string) string {
	switch {
	case notRecorded(code):
		return w.Say("word.not_recorded")
	case dimension == "site" || dimension == "clinician":
		return isolated(code)
	case dimension == "ridge_class" && code != "other": // rare classes are counted together as other
		return w.Say("word.ridge_class", "class", w.codeApart(code))
	}
	return w.codeApart(code)
}

// code is a code of the contract in words: as the catalogue has it, or spelt as it is. A
// period is written as the language does.
func (w words) code(code string) string { return w.or("code.*", code, spaced(w.Period(code))) }

// own is a code of one of the contract's own short lists, such as an arch or a side, in
// words; nothing else is expected there, and what is stands as it is.
func (w words) own(code string) string { return w.or("code.*", code, code) }

// codeApart is a code in words within a sentence, kept apart where it is not ours.
func (w words) codeApart(code string) string {
	return w.or("code.*", code, isolated(spaced(w.Period(code))))
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
func (w words) label(dimension, code string) string {
	if !notRecorded(code) && (dimension == "site" || dimension == "clinician") {
		return isolated(code)
	}
	return sentenceCase(w.value(dimension, code))
}

func notRecorded(code string) bool {
	return code == "" || code == "not_recorded" || code == "missing"
}

// placeName is "lower tongue-side (lingual) sulcus, patient's left".
func (w words) placeName(arch, zone, side string) string {
	return w.Say("place.of_arch", "arch", w.own(arch), "place", w.placeOf(zone, side))
}

// placeCell is a place in a table whose head says that sides are the patient's own.
func (w words) placeCell(arch, zone, side string) string {
	return sentenceCase(w.Say("place.of_arch", "arch", w.own(arch), "place", w.placeIn(zone, side)))
}

// placeIn is a place with its side, without saying whose side it is.
func (w words) placeIn(zone, side string) string {
	return w.Say("place.short", "zone", w.zone(zone), "side", side)
}

func (w words) placeOf(zone, side string) string {
	return w.Say("place.whole", "zone", w.zone(zone), "side", side)
}

func (w words) zone(id string) string { return w.or("zone.*", id, spaced(id)) }

// fieldName is the contract's own meaning of a column.
func (w words) fieldName(tableName, columnName string) string {
	if s, ok := w.Named("field.*", tableName+"."+columnName); ok {
		return sentenceCase(s)
	}
	if t, ok := bundle.Find(tableName); ok {
		if c, ok := t.Column(columnName); ok && c.Meaning != "" {
			return sentenceCase(c.Meaning)
		}
	}
	return sentenceCase(spaced(columnName))
}

func (w words) basisName(id string) string {
	if id == "" {
		return w.Say("word.not_stated")
	}
	return w.or("basis.*", id, spaced(id))
}

// lesionCaution stands beside every list of places that stayed sore.
func (w words) lesionCaution() string { return w.Say("caution.lesion") }

// cautions stand at the foot of every page.
func (w words) cautions() []string {
	return []string{w.Say("caution.cause"), w.Say("caution.learning"), w.lesionCaution(), w.Say("caution.privacy"), w.Say("caution.local"), w.Say("caution.privilege")}
}

func spaced(id string) string { return strings.ReplaceAll(id, "_", " ") }

// sentenceCase begins with a capital.
func sentenceCase(s string) string {
	r, size := utf8.DecodeRuneInString(s)
	if !unicode.IsLower(r) {
		return s
	}
	return string(unicode.ToUpper(r)) + s[size:]
}
