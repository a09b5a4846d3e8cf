package review

import (
	"fmt"
	"slices"

	"afterfit/internal/bundle"
	"afterfit/internal/habit"
	"afterfit/queries"
)

// notRecorded stands in the linked tables where a code was not written down, or was
// written down as unknown.
const notRecorded = "not_recorded"

// linkCodes are the types of the coded columns of the linked tables.
var linkCodes = map[string]queries.Codes{
	"arch":            queries.CodesOf(contractCodes("dentures", "arch")...),
	"age_band":        queries.CodesOf(contractCodes("cases", "age_band")...),
	"sex":             queries.CodesOf(contractCodes("cases", "sex")...),
	"prior_denture":   queries.CodesOf(contractCodes("cases", "prior_denture")...),
	"course":          queries.CodesOf(contractCodes("cases", "course")...),
	"operator":        queries.CodesOf(contractCodes("cases", "operator")...),
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
	"event":           queries.CodesOf("adjustment_visits", "chair_minutes", "early_sore_spots"),
	"first":           queries.CodesOf("first_adjustment", "planned_visit", "display_complaint", "vertical_complaint", "any_ulcer", "remake", "reline"),
}

// linkFill is what the statements of a link are filled with: the types, and where habits
// stand.
var linkFill = func() map[string]any {
	fill := map[string]any{"habits": habitWords, "sides": sidesOfZone}
	for column, codes := range linkCodes {
		fill[column] = codes
	}
	return fill
}()

// habitWord is a column of the linked tables that holds many habits, two bits each.
type habitWord struct {
	Name   queries.Name
	Habits []habitPlace
}

// habitPlace is where a habit stands: what it adds to the number where a denture has it,
// and where that cannot be assessed.
type habitPlace struct {
	Column       queries.Name
	Shift        int
	Yes, Unknown int64
}

// habitsInWord is how many habits a whole number of 64 bits holds, its sign left alone.
const habitsInWord = 31

// habitWords are all habits, in the order of the catalogue.
var habitWords = func() []habitWord {
	var words []habitWord
	for some := range slices.Chunk(habit.Catalogue, habitsInWord) {
		w := habitWord{Name: queries.NameOf(fmt.Sprintf("habits_%d", len(words)+1))}
		for i, h := range some {
			w.Habits = append(w.Habits, habitPlace{queries.NameOf(h.Column()), 2 * i, 1 << (2 * i), notAssessable << (2 * i)})
		}
		words = append(words, w)
	}
	return words
}()

// contractCodes are the codes that the contract allows in a column.
func contractCodes(table, column string) []string {
	t, _ := bundle.Find(table)
	c, ok := t.Column(column)
	if !ok || len(c.Codes) == 0 {
		panic("review: " + table + "." + column + " has no codes")
	}
	return slices.Clone(c.Codes)
}

// recordedCodes is the type of a column of codes in which unknown is not recorded.
func recordedCodes(table, column string) queries.Codes {
	codes := slices.DeleteFunc(contractCodes(table, column), func(c string) bool { return c == "unknown" })
	return queries.CodesOf(append(codes, notRecorded)...)
}
