package page

import (
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"afterfit/internal/habit"
	"afterfit/internal/review"
	"afterfit/queries"
)

// storyDose is a curve whose log ratio to the reference grows by the slope with each mm.
// The figures are made up.
func storyDose(exposure, outcome string, reference, rate, slope float64) review.Dose {
	d := review.Dose{ID: exposure + "." + outcome, Exposure: exposure, Outcome: outcome, Days: 90, Direction: "more", Stated: true, Reference: review.Num(reference),
		Usual: [2]review.Num{review.Num(reference - 0.5), review.Num(reference + 0.5)}, Knots: []review.Num{1, 1.5, 2, 4},
		Slope: est(math.Exp(slope), math.Exp(slope-0.02), math.Exp(slope+0.02), 6900, 13000, "times for each mm"), Corrected: fewer(6900),
		AsRead: "The space in the tray is never read twice, so its reading error is not known.",
		Flat:   0.0001, Q: 0.0004, Bent: 0.03, N: 6900, Events: 13000, LeftOut: 31, Missing: 379, Strata: 30, Patients: 3600, Adjusted: []string{"ridge_class"}, Level: 0.95, Method: "canned", Query: "denture_words"}
	at := func(mm float64) review.DosePoint {
		log, half := slope*(mm-reference), 0.03*math.Sqrt(math.Abs(mm-reference))
		p := review.DosePoint{MM: review.Num(mm), Ratio: review.Num(math.Exp(log)), RatioLow: review.Num(math.Exp(log - half)), RatioHigh: review.Num(math.Exp(log + half)), N: 900, Events: 1500}
		p.Rate, p.Low, p.High = review.Num(rate)*p.Ratio, review.Num(rate)*p.RatioLow, review.Num(rate)*p.RatioHigh
		return p
	}
	for i := range 5 {
		d.At = append(d.At, at(reference-1+float64(i)))
		d.Values = append(d.Values, review.DoseValue{MM: d.At[i].MM, N: 900, Events: 1500})
		d.Curve = append(d.Curve, at(reference-1+float64(i)), at(reference-0.5+float64(i)))
	}
	return d
}

func storyDoses() []review.Dose {
	tray, freeway := storyDose("clearance_max_mm", review.Adjustments, 1.5, 164, 0.13), storyDose("freeway_mm", review.SoreSpots, 3, 153, -0.02)
	freeway.Corrected, freeway.Flat, freeway.Q, freeway.AsRead = est(0.97, 0.94, 1.01, 6900, 13000, "times for each mm"), 0.2, 0.3, ""
	freeway.Reading = &review.Reading{Reliability: est(0.68, 0.66, 0.7, 6900, 4168, "share"), ErrorSD: 0.9, SpreadSD: 1.6, Takes: 1.4, Repeats: 4168}
	few, control := storyDose("display_off_mm", review.Display, 0, 4, 0.1), storyDose("display_off_mm", review.SoreSpots, 0, 160, 0)
	few.TooFew, few.At, few.Curve = "Too few to tell: 12 events in 40 dentures with a recorded value; a curve needs 30, which about 60 more dentures would bring.", nil, nil
	control.Control, control.Flat, control.Q = true, 0.4, review.Num(math.NaN())
	return []review.Dose{freeway, few, tray, control}
}

// TestCurvesAreSaidByWhatTheyShow: sure, unsure, too few, and controls that keep quiet or
// do not.
func TestCurvesAreSaidByWhatTheyShow(t *testing.T) {
	all := storyDoses()
	freeway, few, tray, control := all[0], all[1], all[2], all[3]
	assert.Equal(t, "With 4.5 mm of space in the tray there were 242 adjustment visits per 100 dentures, at 1.5 mm 164: 78 more (95% interval 66 to 91 more). The curve bends, so one figure for each millimetre tells only part of it.", english.doseSaid(tray))
	tray.Bent = 0.4
	assert.Contains(t, english.doseSaid(tray), "A straight line fits about as well.")
	assert.Contains(t, english.doseSaid(freeway), "No sure sign that early sore spots go with freeway space (P = 0.200).")
	assert.Contains(t, english.doseSaid(freeway), "this may be chance")
	assert.Contains(t, english.doseSaid(few), "too few to tell: 12 events in 40 dentures")
	assert.Contains(t, english.doseSaid(control), "should show nothing, and shows nothing beyond chance")
	control.Flat = 0.004
	assert.Contains(t, english.doseSaid(control), "should show nothing, yet its curve is not level (P = 0.004)")
	assert.Equal(t, "with 0.5 mm less display than the lip suggests", english.quantityOf("display_off_mm").at(-0.5))
	assert.Equal(t, "at 2 mm of depth", english.quantityOf("depth_mm").at(2))
}

// TestSlopesReadAsPercentages by hand: ratios of 0.97 (0.94 to 1.01) and 1.14 (1.11 to 1.17).
func TestSlopesReadAsPercentages(t *testing.T) {
	assert.Equal(t, "3.0% fewer for each mm more (95% interval 6.0% fewer to 1.0% more).", english.eachMM(est(0.97, 0.94, 1.01, 1, 1, "")))
	assert.Equal(t, "14% more for each mm more (95% interval 11% to 17% more).", english.eachMM(est(1.14, 1.11, 1.17, 1, 1, "")))
	assert.Equal(t, "10.0% fewer for each mm more (95% interval 5.0% to 15% fewer).", english.eachMM(est(0.9004, 0.85, 0.95, 1, 1, "")))
}

// TestCurvesAreOpenOrFolded: of six sure curves four are open, one of each quantity first;
// controls and those with too few fold.
func TestCurvesAreOpenOrFolded(t *testing.T) {
	all := storyDoses()
	for i, q := range []float64{0.001, 0.002, 0.003} {
		d := storyDose("clearance_max_mm", []string{review.SoreSpots, review.Remake, review.Reline}[i], 1.5, 100, 0.1)
		d.Q = review.Num(q)
		all = append(all, d)
	}
	open, closed := sorted(all)
	ids := func(list []review.Dose) (out []string) {
		for _, d := range list {
			out = append(out, d.ID)
		}
		return out
	}
	assert.Equal(t, []string{"clearance_max_mm.adjustment_visits", "freeway_mm.early_sore_spots", "clearance_max_mm.early_sore_spots", "clearance_max_mm.remake"}, ids(open))
	assert.Equal(t, []string{"clearance_max_mm.reline", "display_off_mm.display_complaint", "display_off_mm.early_sore_spots"}, ids(closed))
	open, closed = sorted(all[1:2])
	assert.Len(t, open, 1)
	assert.Empty(t, closed)
}

// TestEveryFindingOpens: each pair and curve has its definition, counts, what is held
// alike, its diagram and its statement, whose text the page holds.
func TestEveryFindingOpens(t *testing.T) {
	page := ours(rendered(t, "pack"))
	f := story()
	for _, p := range f.Pairs {
		fold := cutOut(t, page, `" id="pair-`+dashed(p.ID)+`">`, "</details>")
		for _, part := range []string{"<dt>The habit</dt>", "<dt>Dentures</dt>", "<dt>How</dt>", "statement of its counts"} {
			if part == "statement of its counts" {
				part = "statement " + p.Within.Ratio.Query
			}
			assert.Contains(t, fold, part, p.ID)
		}
		if _, known := habit.FindHypothesis(p.ID); known {
			for _, part := range []string{`<svg class="part`, "<dt>Held alike</dt>", "<dt>Where the habit is taken from</dt>", "<dt>Why it was looked at</dt>"} {
				assert.Contains(t, fold, part, p.ID)
			}
		}
	}
	for _, d := range f.Doses {
		fold := cutOut(t, page, `" id="curve-of-`+dashed(d.ID)+`">`, "</details>")
		for _, part := range []string{`<svg class="part`, "<dt>The quantity</dt>", "<dt>Dentures</dt>", "<dt>Held alike</dt>", "statements denture_words"} {
			assert.Contains(t, fold, part, d.ID)
		}
	}
	for _, name := range shownStatements {
		text := cutOut(t, page, `id="statement-`+name+`"`, "</details>")
		assert.Contains(t, text, "-- Question:", name)
		assert.True(t, strings.Count(text, "\n") >= strings.Count(strings.TrimSpace(queries.Text(name)), "\n"), name)
	}
}

func cutOut(t *testing.T, page, from, to string) string {
	t.Helper()
	_, rest, found := strings.Cut(page, from)
	require.True(t, found, from)
	part, _, found := strings.Cut(rest, to)
	require.True(t, found, to)
	return part
}

// TestDiagramTableHasEveryArrow: what the drawing gathers stands in the table beside it.
func TestDiagramTableHasEveryArrow(t *testing.T) {
	rows := english.causes()[0].Table.Rows
	for _, e := range habit.Causes.Edges {
		from, to, seen := english.nodeTitles([]string{e.From}), english.nodeTitles([]string{e.To}), 0
		for _, r := range rows {
			if r[2] == e.Why && holds(r[0], from) && holds(r[1], to) {
				seen++
			}
		}
		assert.Equal(t, 1, seen, "%s to %s", e.From, e.To)
	}
}

func holds(list, label string) bool {
	for _, l := range strings.Split(list, "; ") {
		if l == label {
			return true
		}
	}
	return false
}
