package page

import (
	"cmp"
	"fmt"
	"html/template"
	"math"
	"slices"
	"strings"

	"afterfit/internal/chart"
	"afterfit/internal/habit"
	"afterfit/internal/review"
)

// dosesOpen is how many curves are open at once; the others fold.
const dosesOpen = 4

// measured answers how trouble grows with the measurement: a curve for each quantity and
// outcome, then the plain bands.
func measured(f *review.Findings, w words) *section {
	s := bands(f, w)
	if len(f.Doses) == 0 {
		return s
	}
	if s == nil {
		s = &section{ID: "measurements", Title: "How does trouble grow with the measurement?"}
	}
	s.Closed, s.Figures, s.Lead = s.Figures, nil, ""
	for i := range s.Closed {
		s.Closed[i].Title += ", not adjusted"
		s.Closed[i].Table.drop("Method") // stated once, under how this was worked out
	}
	open, closed := sorted(f.Doses)
	for _, d := range open {
		s.Figures = append(s.Figures, doseFigure(d))
	}
	var folded []figure
	for _, d := range closed {
		folded = append(folded, doseFigure(d))
	}
	s.Closed = append(folded, s.Closed...)
	s.ClosedTitle = "More curves, the control, and plain bands that are not adjusted"
	s.Lead, s.Figures[0].Lead = s.Figures[0].Lead, ""
	if s.Figures[0].SVG == "" { // too few to tell, as the section's lead says
		s.Figures = s.Figures[1:]
	}
	drawn := parts{prefix: "dose"}
	for i, d := range slices.Concat(open, closed) {
		s.Folds = append(s.Folds, doseFold(d, drawn.svg(d.ID)))
		if i > 0 {
			s.Folds[i].Paper = nothing // its figure says most of it
		}
	}
	s.FoldsTitle = "Open a curve"
	s.Notes = []string{"Each curve compares dentures of one clinician, in one arch, with about as much trouble to be expected from their case mix. " +
		"The figure is what those dentures would have had together at each value if the curve held for them all. It is an association, not an effect."}
	return s
}

// sorted puts the surest curve of each quantity first, then the next surest, and splits
// off what folds. Controls and curves with too few always fold.
func sorted(all []review.Dose) (open, closed []review.Dose) {
	ordered := slices.Clone(all)
	q := func(d review.Dose) float64 {
		if d.Control || d.TooFew != "" || !d.Q.Known() {
			return 2
		}
		return float64(d.Q)
	}
	slices.SortStableFunc(ordered, func(a, b review.Dose) int { return cmp.Compare(q(a), q(b)) })
	first := map[string]bool{}
	for _, pass := range []bool{true, false} {
		for _, d := range ordered {
			if fresh := !first[d.Exposure]; q(d) < 2 && fresh == pass && len(open) < dosesOpen && !slices.ContainsFunc(open, func(o review.Dose) bool { return o.ID == d.ID }) {
				first[d.Exposure] = true
				open = append(open, d)
			}
		}
	}
	if len(open) == 0 {
		return ordered[:1], ordered[1:]
	}
	for _, d := range ordered {
		if !slices.ContainsFunc(open, func(o review.Dose) bool { return o.ID == d.ID }) {
			closed = append(closed, d)
		}
	}
	return open, closed
}

func doseFigure(d review.Dose) figure {
	x := quantityOf(d.Exposure)
	title := sentenceCase(pairNoun(d.Outcome)) + " by " + x.Noun
	if d.Control {
		title += " (a control, should show nothing)"
	}
	fig := figure{ID: "dose-" + dashed(d.ID), Title: title, Lead: doseSaid(d)}
	if d.TooFew != "" {
		return fig
	}
	c := chart.Dose{Reference: value64(d.Reference), Low: value64(d.Usual[0]), High: value64(d.Usual[1]), Unit: pairNoun(d.Outcome) + " per 100", Along: x.Along, Title: title + ". " + fig.Lead}
	for _, p := range d.Curve {
		c.Points = append(c.Points, chart.DosePoint{X: value64(p.MM), Y: value64(p.Rate), Low: value64(p.Low), High: value64(p.High)})
	}
	for _, v := range d.Values {
		c.Counts = append(c.Counts, chart.DoseCount{X: value64(v.MM), N: v.N})
	}
	fig.SVG = template.HTML(chart.DrawDose(c))
	fig.Beside = doseBeside(d)
	fig.Caption = fmt.Sprintf("n = %s dentures of %s patients, %s events. The shaded area is the %sinterval of the difference from %s mm (the ring), where it closes. The bars under the axis count dentures by value; the thick line is the usual range. %s",
		count(d.N), count(d.Patients), count(d.Events), level(d.Slope), millimetres(d.Reference), x.Definition)
	fig.Table = doseTable(d)
	return fig
}

// doseSaid tells a curve in a sentence or two.
func doseSaid(d review.Dose) string {
	x := quantityOf(d.Exposure)
	about := sentenceCase(x.Noun) + " and " + pairNoun(d.Outcome)
	if d.TooFew != "" || len(d.At) < 2 {
		return about + ": " + lowerFirst(d.TooFew)
	}
	p := doseTelling(d)
	said := fmt.Sprintf("%s there were %s %s per 100 dentures, %s mm %s: %s", sentenceCase(x.at(p.MM)), rateText(p.Rate), pairNoun(d.Outcome),
		"at "+millimetres(d.Reference), rateText(reference(d)), apartText(d, p))
	switch {
	case d.Control && d.Flat < 0.05:
		return "This pair should show nothing, yet its curve is not level (P = " + small(d.Flat) + "): chance, or something that was not recorded. " + said + "."
	case d.Control:
		return "This pair should show nothing, and shows nothing beyond chance (P = " + small(d.Flat) + "). " + said + "."
	case d.Q < 0.05:
		return said + ". " + bentText(d)
	}
	return "No sure sign that " + pairNoun(d.Outcome) + " go with " + x.Noun + " (P = " + small(d.Flat) + "). " + said + "; this may be chance."
}

// doseTelling is the round value to tell a curve by: the one whose difference from the
// reference is surest.
func doseTelling(d review.Dose) review.DosePoint {
	best, most := d.At[0], -1.0
	for _, p := range d.At {
		if wide := math.Log(float64(p.RatioHigh / p.RatioLow)); wide > 0 {
			if z := math.Abs(math.Log(float64(p.Ratio))) / wide; z > most {
				best, most = p, z
			}
		}
	}
	return best
}

// reference is the rate at the reference.
func reference(d review.Dose) review.Num { return d.At[0].Rate / d.At[0].Ratio }

// apartText is "21 more (95% interval 5 more to 40 more)".
func apartText(d review.Dose, p review.DosePoint) string {
	base := reference(d)
	return fmt.Sprintf("%s (%sinterval %s)", moreText(p.Rate-base, rateText), level(d.Slope), moreBetween(p.Low-base, p.High-base, rateText))
}

func rateText(n review.Num) string {
	if math.Abs(float64(n)) >= 20 {
		return number(n, 0)
	}
	return number(n, 1)
}

func moreText(n review.Num, write func(review.Num) string) string {
	if n < 0 {
		return write(-n) + " fewer"
	}
	return write(n) + " more"
}

// moreBetween is "5 to 40 more" or "3 fewer to 8 more".
func moreBetween(low, high review.Num, write func(review.Num) string) string {
	switch {
	case low >= 0:
		return write(low) + " to " + write(high) + " more"
	case high <= 0:
		return write(-high) + " to " + write(-low) + " fewer"
	}
	return write(-low) + " fewer to " + write(high) + " more"
}

// bentText says whether a straight line would tell the same.
func bentText(d review.Dose) string {
	if d.Bent < 0.05 {
		return "The curve bends, so one figure for each millimetre tells only part of it."
	}
	return "A straight line fits about as well."
}

// eachMM is a slope as a percentage for each millimetre, with its interval.
func eachMM(e review.Estimate) string {
	percentOf := func(n review.Num) string { return number(100*n, oneBelow(100*n)) + "%" }
	return fmt.Sprintf("%s for each mm more (%sinterval %s)", moreText(e.Value-1, percentOf), level(e), moreBetween(e.Low-1, e.High-1, percentOf))
}

func oneBelow(n review.Num) int {
	if math.Abs(float64(n)) < 10 {
		return 1
	}
	return 0
}

func millimetres(n review.Num) string {
	if float64(n) == math.Trunc(float64(n)) {
		return number(n, 0)
	}
	return number(n, 1)
}

// doseBeside are the figures beside a curve: slopes, reading, tests, and what it stands on.
func doseBeside(d review.Dose) []definition {
	out := []definition{{"Straight line, as read", eachMM(d.Slope) + "."}}
	switch r := d.Reading; {
	case d.Corrected.Value.Known() && r != nil:
		out = append(out, definition{"Reading error taken out", eachMM(d.Corrected) + "."},
			definition{"How well it is read", fmt.Sprintf("Of the variance among like dentures %s%% (%s to %s%%) is real; the rest is reading error with an SD of %s mm (from %s repeated readings). A slope as read is thinned by that share.",
				number(100*r.Reliability.Value, 0), number(100*r.Reliability.Low, 0), number(100*r.Reliability.High, 0), number(r.ErrorSD, 1), count(r.Repeats))})
	default:
		out = append(out, definition{"Reading error taken out", "Cannot be done. " + d.AsRead})
	}
	chance := "P that the curve is level: " + small(d.Flat)
	if d.Q.Known() {
		chance += "; q over all curves: " + small(d.Q)
	}
	return append(out, definition{"Chance", chance + ". P that it is straight: " + small(d.Bent) + "."})
}

// doseFold is a curve with all that stands behind it.
func doseFold(d review.Dose, svg template.HTML) fold {
	x := quantityOf(d.Exposure)
	f := fold{ID: "curve-of-" + dashed(d.ID), Summary: sentenceCase(pairNoun(d.Outcome)) + " by " + x.Noun, Text: doseSaid(d), SVG: svg}
	if d.Control {
		f.Summary = "Control, should show nothing: " + f.Summary
	}
	add := func(term, text string) {
		if text != "" {
			f.Facts = append(f.Facts, definition{term, text})
		}
	}
	h, _ := habit.FindHypothesis(d.ID)
	add("The quantity", x.Definition)
	add("The outcome", outcomeOf(d.Outcome).Definition)
	add("Why it was looked at", h.Mechanism+" "+doseStated(d)+" Source: "+h.Source+".")
	add("Dentures", fmt.Sprintf("%s compared within %s clinicians and arches, %s events; %s more with a recorded value had nothing to compare with; in %s it was not recorded.", count(d.N), count(int64(d.Strata)), count(d.Events), count(d.LeftOut), count(d.Missing)))
	add("Held alike", "Clinician, arch, and what the causal diagram asks for: "+labels(h.Adjust())+". Columns that told dentures apart: "+none(strings.Join(d.Adjusted, ", "))+".")
	add("Assumed", strings.Join(h.Assumed(), " "))
	var knots []string
	for _, k := range d.Knots {
		knots = append(knots, millimetres(k))
	}
	add("How", fmt.Sprintf("%s. Knots of the curve: %s mm (afterfit ask doses; statements %s and %s).", d.Method, none(strings.Join(knots, ", ")), d.Query, d.Slope.Query))
	return f
}

func doseStated(d review.Dose) string {
	switch {
	case d.Control:
		return "A control: nothing is expected."
	case d.Direction == "either":
		return statedText(d.Stated) + " Expected: a difference, either way."
	}
	return statedText(d.Stated) + " Expected: " + d.Direction + " as the value grows."
}

func doseTable(d review.Dose) *table {
	t := &table{Caption: "Table: " + pairNoun(d.Outcome) + " by " + quantityOf(d.Exposure).Noun, Head: []column{{"mm", true}, {"Per 100 dentures", true}, {"Difference (interval)", true}, {"Ratio", true}, {"Interval", true}, {"n nearest", true}, {"Events", true}}}
	base := reference(d)
	for _, p := range d.At {
		t.Rows = append(t.Rows, []string{millimetres(p.MM), rateText(p.Rate), rateText(p.Rate-base) + " (" + rateText(p.Low-base) + " to " + rateText(p.High-base) + ")",
			number(p.Ratio, 2), number(p.RatioLow, 2) + " to " + number(p.RatioHigh, 2), count(p.N), count(p.Events)})
	}
	return t
}
