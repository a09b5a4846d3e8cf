package review

import (
	"fmt"
	"math/bits"
	"slices"

	"afterfit/internal/bundle"
	"afterfit/internal/habit"
	"afterfit/queries"
)

// notRecorded stands in the linked tables where a code was not written down, or was
// written down as unknown.
const notRecorded = "not_recorded"

// archCodes are the arches; the number of an upper denture is odd.
var archCodes = queries.CodesOf(contractCodes("dentures", "arch")...)

// linkCodes are the codes that the linked tables hold, by column.
var linkCodes = map[string]queries.Codes{
	"arch":            archCodes,
	"age_band":        queries.CodesOf(contractCodes("cases", "age_band")...),
	"sex":             queries.CodesOf(contractCodes("cases", "sex")...),
	"prior_denture":   queries.CodesOf(contractCodes("cases", "prior_denture")...),
	"course":          queries.CodesOf(contractCodes("cases", "course")...),
	"operator":        queries.CodesOf(contractCodes("cases", "operator")...),
	"observed_end":    queries.CodesOf(contractCodes("cases", "observed_end")...),
	"end_reason":      queries.CodesOf(append(contractCodes("cases", "observed_end"), "remade")...),
	"vertical_basis":  recordedCodes("records", "vertical_basis"),
	"centric_method":  recordedCodes("records", "centric_method"),
	"technique":       recordedCodes("trays", "technique"),
	"sized_by":        recordedCodes("trays", "sized_by"),
	"band_seating":    recordedCodes("trays", "seating"),
	"band_discomfort": recordedCodes("trays", "discomfort"),
	"band_touches":    queries.CodesOf("ridge", "tuberosity", "soft_palate", "none", "other", notRecorded),
	"band_freeway":    queries.CodesOf("low", "usual", "high", notRecorded),
	"band_clearance":  queries.CodesOf("tight", "within", "uneven", "bulky", notRecorded),
	"band_display":    queries.CodesOf("less", "near", "more", notRecorded),
	"zone":            queries.CodesOf(contractCodes("sore_spots", "zone")...),
	"side":            queries.CodesOf(contractCodes("sore_spots", "side")...),
}

// linkFill is what the statements of a link are filled with: the codes, where codes and
// habits stand, and what the marks of a visit are.
var linkFill = func() map[string]any {
	fill := map[string]any{"habits": habitWords, "coded": codePlaces, "place": placeOf, "marks": visitMarks, "sides": sidesOfZone, "habit": habitAt}
	for column, codes := range linkCodes {
		fill[column] = codes
	}
	return fill
}()

// What a column of the linked tables follows from: the case (habits: with its record and
// readings), the record, the tray, or the denture itself (or several of them).
const (
	ofCase    = "case"
	ofRecord  = "record"
	ofTray    = "tray"
	ofDenture = "denture"
)

// codePlace is where the number of a code stands in the columns codes of linked_cases and
// linked_made: One is its place value, and Mask its bits moved to the right by Shift.
type codePlace struct {
	Column    queries.Name
	Of        string
	Codes     queries.Codes
	Shift     int
	Mask, One int64
}

// In takes the number of the code out of a column.
func (p codePlace) In(column string) string {
	return fmt.Sprintf("(%s >> %d & %d)", column, p.Shift, p.Mask)
}

// Table is linked_cases or linked_made, as the views call them.
func (p codePlace) Table() string {
	if p.Of == ofCase || p.Of == ofRecord {
		return "c"
	}
	return "d"
}

// codePlaces are the coded columns that the two tables hold packed, each at a place of its
// own in both, so that a sum of the two numbers holds all of them.
var codePlaces = func() (places []codePlace) {
	shift := 0
	put := func(of string, columns ...string) {
		for _, c := range columns {
			width := bits.Len(uint(len(linkCodes[c].List())))
			places = append(places, codePlace{queries.NameOf(c), of, linkCodes[c], shift, 1<<width - 1, 1 << shift})
			shift += width
		}
	}
	put(ofCase, "age_band", "sex", "prior_denture", "course", "operator", "observed_end")
	put(ofRecord, "vertical_basis", "centric_method", "band_freeway")
	put(ofTray, "technique", "sized_by", "band_clearance", "band_seating", "band_discomfort", "band_touches")
	put(ofDenture, "band_display", "end_reason")
	if shift > 62 {
		panic(fmt.Sprintf("review: codes take %d bits of 62", shift))
	}
	return places
}()

// placeOf finds the place of a column.
var placeOf = func() map[string]codePlace {
	of := map[string]codePlace{}
	for _, p := range codePlaces {
		of[p.Column.String()] = p
	}
	return of
}()

// codesColumn is the column that holds them.
var codesColumn = queries.NameOf("codes")

// habitWord is a column of the linked tables that holds many habits, two bits each.
type habitWord struct {
	Name   queries.Name
	Habits []habitPlace
}

// habitPlace is where a habit stands: what it adds to the number where a denture has it,
// and where that cannot be assessed.
type habitPlace struct {
	Column       queries.Name
	Of           string
	Shift        int
	Yes, Unknown int64
}

// Habits that follow from the tray alone, and from the denture itself or from a tray and
// its case. All others follow from the case.
var (
	trayHabits = []string{"clearance_over_2", "clearance_under_1", "clearance_uneven", "partial_seating_used", "discomfort_used", "touches_soft_palate",
		"touches_tuberosity", "touches_ridge", "palate_bulk", "first_tray_used", "sized_by_eye", "single_phase"}
	dentureHabits = []string{"clearance_not_recorded", "old_denture_unused", "no_remount", "late_delivery"}
)

func habitOf(id string) string {
	switch {
	case slices.Contains(trayHabits, id):
		return ofTray
	case slices.Contains(dentureHabits, id):
		return ofDenture
	}
	return ofCase
}

// habitsInWord is how many habits a whole number of 64 bits holds, its sign left alone.
const habitsInWord = 31

// habitWords are all habits, in the order of the catalogue.
var habitWords = func() []habitWord {
	var words []habitWord
	for some := range slices.Chunk(habit.Catalogue, habitsInWord) {
		w := habitWord{Name: queries.NameOf(fmt.Sprintf("habits_%d", len(words)+1))}
		for i, h := range some {
			w.Habits = append(w.Habits, habitPlace{queries.NameOf(h.Column()), habitOf(h.ID), 2 * i, 1 << (2 * i), notAssessable << (2 * i)})
		}
		words = append(words, w)
	}
	return words
}()

// habitBits are the two bits of a habit: in which column, and how far from its end.
type habitBits struct {
	Word  queries.Name
	Shift int
}

// habitAt says where the linked tables hold a habit, by its id.
var habitAt = func() map[string]habitBits {
	at := map[string]habitBits{}
	for k, h := range habit.Catalogue {
		w := habitWords[k/habitsInWord]
		at[h.ID] = habitBits{w.Name, w.Habits[k%habitsInWord].Shift}
	}
	return at
}()

// The marks of a visit at which a denture was seen, as link_seen adds them up.
const (
	adjustedMark = 1 << iota
	plannedMark
	displayMark  // a complaint of what shows
	verticalMark // a complaint of the vertical
)

// The marks of a sore spot, as link_sore adds them up.
const earlyMark, ulcerMark = 1, 2

var visitMarks = map[string]int{"adjusted": adjustedMark, "planned": plannedMark, "display": displayMark, "vertical": verticalMark}

// contractCodes are the codes that the contract allows in a column.
func contractCodes(table, column string) []string {
	t, _ := bundle.Find(table)
	c, ok := t.Column(column)
	if !ok || len(c.Codes) == 0 {
		panic("review: " + table + "." + column + " has no codes")
	}
	return slices.Clone(c.Codes)
}

// recordedCodes are those of a column in which unknown is not recorded.
func recordedCodes(table, column string) queries.Codes {
	codes := slices.DeleteFunc(contractCodes(table, column), func(c string) bool { return c == "unknown" })
	return queries.CodesOf(append(codes, notRecorded)...)
}
