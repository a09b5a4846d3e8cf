package page

import (
	"fmt"
	"html/template"
	"math"
	"slices"
	"strings"

	"afterfit/internal/chart"
	"afterfit/internal/review"
)

// unitPlurals name the kinds of unit.
var unitPlurals = map[string]string{"site": "sites", "clinician": "clinicians", "lab": "laboratories"}

// apartOutcomes are those with a funnel of their own; the others stand in the table.
var apartOutcomes = []string{review.Adjustments, review.SoreSpots, review.Remake}

// unitName is how a page calls a unit: clinicians have no name unless labels are asked for.
func (w words) unitName(dimension, code string) string {
	switch {
	case dimension == "clinician" && !w.labels:
		return "a clinician"
	case dimension == "lab" && notRecorded(code):
		return "laboratory not recorded"
	case dimension == "lab":
		return "laboratory " + isolated(code)
	case dimension == "site":
		return "site " + isolated(code)
	}
	return isolated(code)
}

// apart answers who stands apart from what their cases predict.
func apart(f *review.Findings, w words) *section {
	if len(f.Units) == 0 {
		return nil
	}
	s := &section{ID: "apart", Title: "Who stands apart from what their cases predict?", Notes: []string{
		"Each unit’s events stand beside those that its own cases lead to expect at the follow-up they have had. The order of thought is fixed: the data, then the case mix, then chance, and care last. A ratio is a question, not a verdict, and no basis for discipline on its own.",
	}}
	if !w.labels {
		s.Notes = append(s.Notes, "Clinicians are unlabelled; each has a private page. The quality lead can ask for labels (“afterfit pack --label-clinicians”).")
	}
	for _, id := range apartOutcomes {
		for _, t := range f.Units {
			if t.Outcome == id && t.Dimension == "clinician" {
				s.Figures = append(s.Figures, funnelFigure(t, w))
			}
		}
	}
	for _, dimension := range []string{"site", "lab"} {
		if fig := unitFigure(f, dimension, w); fig != nil {
			s.Figures = append(s.Figures, *fig)
		}
	}
	s.Lead = apartLead(f)
	if s.Figures[0].Lead == s.Lead {
		s.Figures[0].Lead = ""
	}
	return s
}

// pointsOutside counts the units judged and those beyond the near and far limits.
func pointsOutside(t review.UnitTable) (judged, near, far int) {
	for _, u := range t.Units {
		switch {
		case u.Ratio.TooFew != "":
			continue
		case u.Flag == 2 || u.Flag == -2:
			far++
		case u.Flag != 0:
			near++
		}
		judged++
	}
	return judged, near, far
}

func apartLead(f *review.Findings) string {
	for _, t := range f.Units {
		if t.Outcome == review.Adjustments && t.Dimension == "clinician" {
			return funnelLead(t)
		}
	}
	return funnelLead(f.Units[0])
}

func funnelLead(t review.UnitTable) string {
	judged, near, far := pointsOutside(t)
	title, who := outcomeOf(t.Outcome).Title, unitPlurals[t.Dimension]
	if judged < 2 {
		return title + ": too few events to compare " + who + "."
	}
	if near+far == 0 {
		return fmt.Sprintf("%s: all %d %s with enough events lie inside the 95%% limits; what differs between them is no more than chance would make.", title, judged, who)
	}
	return fmt.Sprintf("%s: of %d %s with enough events %d %s outside the 99.8%% limits and %d more outside the 95%% limits; if all worked alike, about %s would lie outside 95%% by chance.",
		title, judged, who, far, lie(far), near, number(review.Num(0.05*float64(judged)), 1))
}

func lie(n int) string {
	if n == 1 {
		return "lies"
	}
	return "lie"
}

// unitsSorted are a table's units by ratio, highest first, so that an unlabelled list
// keeps no order of codes; those without a figure come last.
func unitsSorted(t review.UnitTable) []review.UnitRatio {
	out := slices.Clone(t.Units)
	slices.SortStableFunc(out, func(a, b review.UnitRatio) int {
		switch {
		case told(a.Ratio) != told(b.Ratio):
			return map[bool]int{true: -1, false: 1}[told(a.Ratio)]
		case told(a.Ratio) && a.Ratio.Value != b.Ratio.Value:
			return map[bool]int{true: -1, false: 1}[a.Ratio.Value > b.Ratio.Value]
		}
		return int(b.Ratio.N - a.Ratio.N)
	})
	return out
}

// funnelFigure draws a table's funnel. Units with too few events are left off the
// picture and stand in the table.
func funnelFigure(t review.UnitTable, w words) figure {
	o := outcomeOf(t.Outcome)
	var dots []chart.FunnelDot
	for _, u := range unitsSorted(t) {
		if told(u.Ratio) {
			d := chart.FunnelDot{Size: float64(u.Expected), Ratio: float64(u.Ratio.Value), Flag: max(u.Flag, -u.Flag)}
			if w.labels || t.Dimension != "clinician" {
				d.Name = u.Code
			}
			dots = append(dots, d)
		}
	}
	lead := funnelLead(t)
	fig := figure{ID: "funnel-" + t.Dimension + "-" + t.Outcome, Title: o.Title + ": " + unitPlurals[t.Dimension] + " beside what their cases predict", Lead: lead, Alt: lead}
	fig.SVG = template.HTML(chart.DrawFunnel(dots, funnelLimits(t), o.Noun+" expected", fig.Title+". "+lead))
	if o.Noun == "" {
		fig.SVG = template.HTML(chart.DrawFunnel(dots, funnelLimits(t), "events expected", fig.Title+". "+lead))
	}
	fig.Caption = "Discs: inside the limits; open diamonds: outside 95%; filled diamonds: outside 99.8%. The axis is about 1, as expected, and not about zero. " + dispersionWords(t)
	fig.Table = unitTable(t, w)
	return fig
}

func funnelLimits(t review.UnitTable) []chart.FunnelLimit {
	out := make([]chart.FunnelLimit, len(t.Curve))
	for i, c := range t.Curve {
		out[i] = chart.FunnelLimit{Size: float64(c.Expected), NearLow: float64(c.NearLow), NearHigh: float64(c.NearHigh), FarLow: float64(c.FarLow), FarHigh: float64(c.FarHigh)}
		if !c.FarHigh.Known() {
			out[i].FarHigh = math.Inf(1)
		}
	}
	return out
}

// dispersionWords say what widens the limits.
func dispersionWords(t review.UnitTable) string {
	s := ""
	if t.Dispersion > 1.05 {
		s = fmt.Sprintf("Some patients come often and most do not: their events scatter %s times as much as chance alone would make them, and the limits are widened for it. ", number(t.Dispersion, 1))
	}
	if t.Spread.Known() {
		s += fmt.Sprintf("Between units the spread is %s times what chance leaves (1: chance alone).", number(t.Spread, 1))
	}
	return s
}

// unitTable lists observed, expected, ratio and what is left of it once shrunken.
func unitTable(t review.UnitTable, w words) *table {
	who := sentenceCase(t.Dimension)
	if t.Dimension == "lab" {
		who = "Laboratory"
	}
	out := &table{Caption: "Table: " + outcomeOf(t.Outcome).Title + " by " + strings.ToLower(who), Head: []column{{who, false}, {"n", true}, {"Observed", true}, {"Expected", true}, {"Ratio", true}, {"Interval", true}, {"Shrunken", true}, {"Credible interval", true}, {"Where", false}, {"Method", false}}}
	for _, u := range unitsSorted(t) {
		row := []string{sentenceCase(w.unitName(t.Dimension, u.Code)), count(u.Ratio.N), count(u.Ratio.Events), number(u.Expected, 1)}
		if !told(u.Ratio) {
			out.Rows = append(out.Rows, append(row, tooFew(u.Ratio), "", "", "", "", u.Ratio.Method))
			continue
		}
		out.Rows = append(out.Rows, append(row, number(u.Ratio.Value, 2), ratioLimits(u.Ratio), number(u.Shrunk.Value, 2), ratioLimits(u.Shrunk), flagWords(u), u.Ratio.Method+"; "+u.Shrunk.Method))
	}
	return out
}

func ratioLimits(e review.Estimate) string {
	if !e.Low.Known() || !e.High.Known() {
		return ""
	}
	return number(e.Low, 2) + " to " + number(e.High, 2)
}

// ratioShort is "1.16 times (1.07 to 1.24)".
func ratioShort(e review.Estimate) string {
	if !told(e) {
		return tooFew(e)
	}
	return number(e.Value, 2) + " times (" + ratioLimits(e) + ")"
}

func flagWords(u review.UnitRatio) string {
	side := "above"
	if u.Flag < 0 {
		side = "below"
	}
	switch u.Flag {
	case 0:
		return "inside"
	case 2, -2:
		return side + " 99.8%"
	}
	return side + " 95%"
}

// unitFigure shows sites or laboratories: intervals for the first outcome, a table of all.
func unitFigure(f *review.Findings, dimension string, w words) *figure {
	var all []review.UnitTable
	for _, t := range f.Units {
		if t.Dimension == dimension {
			all = append(all, t)
		}
	}
	if len(all) == 0 {
		return nil
	}
	t := all[0]
	o := outcomeOf(t.Outcome)
	var rows []chart.Row
	for _, u := range unitsSorted(t) {
		r := againstOne(sentenceCase(w.unitName(dimension, u.Code)), u.Ratio)
		if u.Flag == 2 || u.Flag == -2 {
			r.Kind = chart.Beyond
		}
		rows = append(rows, r)
	}
	rows, drawn := fitRows(rows)
	title := o.Title + ": " + unitPlurals[dimension] + " beside what their cases predict"
	fig := drawnFigure("beside-"+dimension, title, funnelLead(t), func() (chart.Drawn, error) {
		return chart.Rows(rows, moreThanExpected, &chart.Rule{At: 0, Name: "as expected"}, title)
	})
	fig.Caption = fmt.Sprintf("%sBars are %sintervals; a diamond lies outside the funnel’s 99.8%% limits. %s", drawn, level(t.Units[0].Ratio), dispersionWords(t))
	fig.Table = unitTable(t, w)
	for _, other := range all[1:] {
		fig.Table = joined(fig.Table, t, other, w)
	}
	fig.Table.Screen = len(fig.Table.Rows) > mostPrinted
	return fig
}

const moreThanExpected = "% more events than expected, or fewer"

// againstOne is a ratio as a row of its distance from 1, in percent: there is a zero
// for the axis to hold.
func againstOne(name string, e review.Estimate) chart.Row {
	r := rowOf(name, e)
	r.Text, r.Value, r.Low, r.High = ratioShort(e), 100*(r.Value-1), 100*(r.Low-1), 100*(r.High-1)
	return r
}

// joined adds another outcome's rows to a table, both with the outcome in front.
func joined(into *table, first, other review.UnitTable, w words) *table {
	if into.Head[0].Title != "Outcome" {
		into.Head = append([]column{{"Outcome", false}}, into.Head...)
		into.Caption = "Table: every outcome by " + strings.ToLower(into.Head[1].Title)
		for i := range into.Rows {
			into.Rows[i] = append([]string{outcomeOf(first.Outcome).Title}, into.Rows[i]...)
		}
	}
	for _, row := range unitTable(other, w).Rows {
		into.Rows = append(into.Rows, append([]string{outcomeOf(other.Outcome).Title}, row...))
	}
	return into
}

// thought lays the order of thought beside every point outside a limit.
func thought(f *review.Findings, w words) *section {
	s := &section{ID: "thought", Title: "What to ask of a point outside the limits", Lead: "First whether the data can be trusted, then whether the cases were harder, then whether it is chance; only then what was done."}
	looked := 0
	for _, t := range f.Units {
		judged, _, _ := pointsOutside(t)
		looked += judged
		for _, u := range unitsSorted(t) {
			if told(u.Ratio) && u.Flag != 0 {
				s.Cards = append(s.Cards, thoughtCard(f, t, u, w))
			}
		}
	}
	if len(s.Cards) == 0 {
		return nil
	}
	s.Notes = []string{fmt.Sprintf("%d ratios were looked at in all. If nobody differed from anybody, about %s of them would lie outside the 95%% limits and %s outside the 99.8%% limits.", looked, number(review.Num(0.05*float64(looked)), 0), number(review.Num(0.002*float64(looked)), 1))}
	return s
}

func thoughtCard(f *review.Findings, t review.UnitTable, u review.UnitRatio, w words) card {
	return card{
		Title: fmt.Sprintf("%s: %s, %s limits", outcomeOf(t.Outcome).Title, w.unitName(t.Dimension, u.Code), flagWords(u)),
		Texts: []string{"1. Data. " + checkWords(u.Checks), "2. Case mix. " + mixWords(f, t, u), "3. Chance. " + chanceWords(t, u),
			"4. Care. Only if the first three leave something: look at the cases together with whoever took the records, and at the habits that go with trouble."},
	}
}

var checkNames = map[string]string{
	"complete": "key fields recorded", "followed": "followed for the whole window", "attended": "with a planned visit in it",
	"same_day": "with two adjustments on one day, perhaps one entered twice", "ends_0_or_5": "verticals of occlusion on a multiple of 5 mm",
}

// checkWords tell the data checks that were run and those that look odd.
func checkWords(c review.DataChecks) string {
	var odd, rest []string
	for _, x := range c.Named() {
		if !x.Check.Own.Value.Known() {
			continue
		}
		text := fmt.Sprintf("%s %s%% (all: %s%%)", checkNames[x.Name], number(x.Check.Own.Value, 0), number(x.Check.All, 0))
		if x.Check.Odd {
			odd = append(odd, text)
		} else {
			rest = append(rest, text)
		}
	}
	s := "Looked at: " + strings.Join(append(odd, rest...), "; ") + ". "
	if len(odd) > 0 {
		return s + "Unlike the others, so look here first: " + strings.Join(odd, "; ") + "."
	}
	return s + "None differs from the others by more than chance and 5 points."
}

func mixWords(f *review.Findings, t review.UnitTable, u review.UnitRatio) string {
	s := fmt.Sprintf("%s events where these cases lead to expect %s: %s.", count(u.Ratio.Events), number(u.Expected, 0), ratioShort(u.Ratio))
	for _, m := range f.Mix {
		if m.Model.Outcome == t.Outcome && m.Concordance.Known() {
			s += fmt.Sprintf(" The recorded case mix tells dentures with more events from those with fewer in %s of 100 pairs (50: a coin), so harder cases that nobody recorded may be part of it.", number(100*m.Concordance, 0))
		}
	}
	return s
}

func chanceWords(t review.UnitTable, u review.UnitRatio) string {
	s := "Beyond the 95% limits lies 1 in 20 by chance alone, beyond the 99.8% limits 1 in 500."
	if u.FlagSpread == 0 {
		s += " Once the unexplained spread between " + unitPlurals[t.Dimension] + " is allowed for, it lies inside."
	} else {
		s += " It lies outside even when the unexplained spread between " + unitPlurals[t.Dimension] + " is allowed for."
	}
	if told(u.Shrunk) && u.Shrunk.Value.Known() {
		s += fmt.Sprintf(" The best guess of the true ratio is nearer to 1: %s.", ratioShort(u.Shrunk))
	}
	return s
}
