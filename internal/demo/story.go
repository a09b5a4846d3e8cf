package demo

import (
	"fmt"
	"slices"
)

// Outcomes that the story speaks of.
const (
	OutcomeVisits    = "adjustment visits"
	OutcomeSpots     = "sore spots"
	OutcomeVertical  = "vertical complaints"
	OutcomeDisplay   = "display complaints"
	OutcomeRemakes   = "remakes"
	OutcomeNothing   = "nothing"
	retrainedSite    = "H2"
	retrainedFromDay = 546 // 2023-07-01, counted from 2022-01-01
)

// Planted is one thing that the invented scenario contains on purpose.
type Planted struct {
	ID       string   // stable name of the entry
	Who      []string // clinician or site codes that carry the habit; nil = everybody, as chance has it
	Habit    string   // habit id; "" for case mix
	Outcome  string   // one of the Outcome constants
	Ratio    float64  // total rate ratio of the outcome with the habit against without it; 1 = none
	Sentence string
}

// Rate ratios of the generator. Each multiplies the expected number of the outcome
// for a denture that carries the exposure. All are invented.
const (
	ratioOversized       = 1.33 // visits, by itself; the eaten freeway space adds to it
	ratioLowVisits       = 1.25 // visits, true freeway space below 1 mm
	ratioLowSpots        = 1.15 // sore spots a visit, likewise
	ratioLowVertical     = 2.0  // vertical complaints a visit, likewise
	ratioCopiedVisits    = 1.30 // visits, vertical copied from an unsound denture
	ratioCopiedVertical  = 4.0  // vertical complaints a visit, likewise
	ratioCopiedRemake    = 3.0  // remakes, likewise
	ratioPartialVisits   = 1.15 // visits, partially seated tray
	ratioPartialSpots    = 1.38 // sore spots a visit, likewise; about 1.5 in 30 days, since a part of the added visits falls later
	ratioDisplayFar      = 3.0  // display complaints a visit, target 1.5 mm or more from what the lip suggests
	freewayEatenPerBulk  = 0.45 // mm of true freeway space per mm of palatal bulk above bulkFree
	bulkFree             = 3.0  // mm of palatal material that eats nothing
	freewayLowBelow      = 1.0  // mm
	displayFarFrom       = 1.5  // mm
	defaultDisplay       = 4.0  // mm, asked for by whoever has a default
	oversizedBeforeShare = 0.70 // share of over-sized trays at the retrained site before the course
	oversizedAfterShare  = 0.07 // and after it
)

// SettingsFile is an afterfit.toml that tells of the one thing that the invented
// service changed on purpose, so that a review of it can say what became of that.
const SettingsFile = `# Settings for the invented service. What was changed on purpose is stated here, so
# that the pack can show and judge it.
[[change]]
name = "Course on tray size"
what = "clearance_over_2"
where = ["H2"]
from = "2023-07"
`

// ratioClass multiplies visits by ridge class I to IV.
var ratioClass = [5]float64{1, 1, 1.05, 1.15, 1.35}

// Story is what was planted, so that whoever checks a review knows what it has to
// find and what it must not find. Habits that it does not name are spread by chance
// and do nothing of their own. Everything in it is invented.
var Story = []Planted{
	{"oversized_trays", []string{"D03", "D12"}, "clearance_over_2", OutcomeVisits, 1.35,
		"D03 and D12 use trays with more than 2 mm of clearance; the bulk over the palate eats freeway space, and sore spots and visits follow."},
	{"retrained_site", []string{retrainedSite}, "clearance_over_2", OutcomeVisits, 1.35,
		"All of H2 over-sized its trays until a course at the end of June 2023; from 2023-07 on they are as rare as elsewhere."},
	{"little_freeway", nil, "freeway_low", OutcomeVisits, ratioLowVisits,
		"A true freeway space below 1 mm brings soreness over the ridges and visits; reading error hides part of it."},
	{"copied_vertical", []string{"D05", "D13"}, "vertical_from_unsound", OutcomeRemakes, ratioCopiedRemake,
		"D05 and D13 copy the vertical of a denture that they recorded as unsound; three times as many remakes follow."},
	{"copied_vertical_complaints", []string{"D05", "D13"}, "vertical_from_unsound", OutcomeVertical, ratioCopiedVertical * ratioCopiedVisits,
		"The verticals that D05 and D13 copy bring complaints of too tall or too short."},
	{"copied_vertical_visits", []string{"D05", "D13"}, "vertical_from_unsound", OutcomeVisits, ratioCopiedVisits,
		"The verticals that D05 and D13 copy bring about a third more visits."},
	{"partial_seating", []string{"D11"}, "partial_seating_used", OutcomeSpots, 1.5,
		"D11 goes on with trays that did not seat fully; half as many sore spots again."},
	{"default_display", []string{"D10"}, "display_far", OutcomeDisplay, ratioDisplayFar,
		"D10 asks for 4 mm of display whatever the lip; where that is far off, people complain of how much shows."},
	{"rounded_verticals", []string{"D09", "D14"}, "reading_ends_0_5", OutcomeNothing, 1,
		"D09 and D14 round verticals to 5 mm; it harms nobody but blurs the freeway space."},
	{"one_take", []string{"D04", "D15"}, "one_centric_take", OutcomeNothing, 1, "D04 and D15 take one centric record; planted to do nothing."},
	{"first_tray", []string{"D06"}, "first_tray_used", OutcomeNothing, 1, "D06 uses the first tray tried; planted to do nothing."},
	{"no_remount", []string{"D01"}, "no_remount", OutcomeNothing, 1, "D01 delivers without a remount; planted to do nothing."},
	{"by_eye", []string{"D02", "D10"}, "sized_by_eye", OutcomeNothing, 1, "D02 and D10 choose trays by eye; planted to do nothing."},
	{"hard_ridges", []string{"H3"}, "", OutcomeVisits, 1.35,
		"Ridge class IV brings a third more visits whoever takes the records, and H3 sees three times as many of them as H1."},
}

// clinician is one invented clinician: where they work and how often they do what.
// Shares are of the cases (or trays) to which the habit can apply.
type clinician struct {
	code, site, operator           string
	like                           string // site of the first service whose case mix this one's site has
	oversized, copies, partial     float64
	roundsTo                       int // tenths of a millimetre
	eye, oneTake, firstTry         float64
	noRemount, noRest, noLip, gaps float64
	repeats                        float64 // share of cases with single readings written down
	fixedDisplay                   bool    // display target is always defaultDisplay
}

// usual is the clinician without a habit of note.
func usual(code, site string) clinician {
	return clinician{code: code, site: site, like: site, operator: "qualified", oversized: 0.10, copies: 0.08, partial: 0.05, roundsTo: 5,
		eye: 0.25, oneTake: 0.30, firstTry: 0.45, noRemount: 0.40, noRest: 0.06, noLip: 0.12, gaps: 0.04, repeats: 0.40}
}

// clinicians are the fifteen of the service, with what Story says of them.
var clinicians = staff()

// perService is how many cases one service of fifteen clinicians and three sites has
// at most, before a bundle of more cases tells of several: some 2,500 cases for each
// clinician in the three years. mostServices bounds what is added unasked.
const perService, mostServices = 37_500, 27

// servicesFor is how many services of fifteen a bundle of so many cases tells of.
func servicesFor(cases int) int { return min(mostServices, max(1, (cases+perService-1)/perService)) }

// staffOf gives the staff of so many services. The first is the one that Story speaks
// of; the others repeat its people and their habits under codes and sites of their own.
func staffOf(services int) []clinician {
	all := slices.Clone(clinicians)
	for k := 1; k < services; k++ {
		for i, c := range clinicians {
			c.code = fmt.Sprintf("D%02d", k*len(clinicians)+i+1)
			c.site = fmt.Sprintf("H%d", 3*k+i/5+1)
			all = append(all, c)
		}
	}
	return all
}

func staff() []clinician {
	var list []clinician
	for i := range 15 {
		list = append(list, usual(string([]byte{'D', '0' + byte((i+1)/10), '0' + byte((i+1)%10)}), []string{"H1", "H2", "H3"}[i/5]))
	}
	at := func(number int) *clinician { return &list[number-1] }
	for _, n := range []int{3, 12} {
		at(n).oversized = 0.60
	}
	for _, n := range []int{5, 13} {
		at(n).copies = 0.65
	}
	for _, n := range []int{9, 14} {
		at(n).roundsTo, at(n).repeats = 50, 0.15
	}
	for _, n := range []int{4, 15} {
		at(n).oneTake = 0.90
	}
	for _, n := range []int{2, 10} {
		at(n).eye = 0.85
	}
	at(11).partial = 0.40
	at(10).fixedDisplay = true
	at(6).firstTry = 0.95
	at(1).noRemount = 0.90
	at(8).noRest, at(7).noLip, at(4).gaps, at(13).gaps = 0.30, 0.50, 0.14, 0.10
	at(15).operator, at(7).operator = "resident", "resident"
	return list
}

// caseload is each clinician's share of the patients, out of its sum.
var caseload = newMix([]float64{9, 8, 8, 6, 7, 7, 6, 8, 5, 6, 7, 8, 6, 5, 4})

// ridgeMix is the spread of ridge classes I to IV at each site: H3 sees the hardest.
var ridgeMix = []struct {
	site string
	mix  mix
}{
	{"H1", newMix([]float64{24, 36, 27, 13})},
	{"H2", newMix([]float64{18, 32, 30, 20})},
	{"H3", newMix([]float64{8, 22, 30, 40})},
}
