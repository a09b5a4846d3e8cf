package page

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// Notes on models travel with the names of columns and codes; pages say them in words.
func TestNotesOnModelsAreInWords(t *testing.T) {
	for text, want := range map[string]string{
		"age_band “90+” (196 dentures, 4 events) is too rare and counted as “70-79”.":                               "Age band: “90+” is too rare (196 dentures, 4 events) and counted as “70-79”.",
		"prior_denture “not_recorded” (1 dentures, 1 events) is too rare and counted as “sound”.":                   "Denture worn before: “not recorded” is too rare (1 denture, 1 event) and counted as “sound”.",
		"The standard does not know ridge_class “4” (12 dentures): counted as “other”.":                             "Ridge class: the standard does not know “class 4” (12 dentures), which is counted as “other”.",
		"course=remake is left out: it follows from the other characteristics, or no event was seen with it.":       "Kind of treatment: “remake” is left out: it follows from the other characteristics, or no event was seen with it.",
		"operator is left out: it follows from the other characteristics, or no event was seen with it.":            "Kind of operator is left out: it follows from the other characteristics, or no event was seen with it.",
		"The kind of operator is left out: most clinicians have one kind only, so it would take out the clinician.": "The kind of operator is left out: most clinicians have one kind only, so it would take out the clinician.",
	} {
		assert.Equal(t, want, storyOptions().words().mixNote(text))
	}
}
