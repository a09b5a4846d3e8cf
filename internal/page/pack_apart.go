package page

import (
	"html/template"
	"math"
	"slices"
	"strings"

	"afterfit/internal/chart"
	"afterfit/internal/review"
)

// apartOutcomes are those with a funnel of their own; the others stand in the table.
var apartOutcomes = []string{review.Adjustments, review.SoreSpots, review.Remake}

// unitName is how a page calls a unit: clinicians have no name unless labels are asked for.
func (w words) unitName(dimension, code string) string {
	switch {
	case dimension == "clinician" && !w.labels:
		return w.Say("unit_named.clinician")
	case dimension == "lab" && notRecorded(code):
		return w.Say("unit_named.lab_not_recorded")
	case dimension == "lab":
		return w.Say("unit_named.lab", "code", isolated(code))
	case dimension == "site":
		return w.Say("unit_named.site", "code", isolated(code))
	}
	return isolated(code)
}

// apart answers who stands apart from what their cases predict.
func apart(f *review.Findings, w words) *section {
	if len(f.Units) == 0 {
		return nil
	}
	s := &section{ID: "apart", Title: w.Say("apart.title"), Notes: []string{
		w.Say("apart.note"),
	}}
	if !w.labels {
		s.Notes = append(s.Notes, w.Say("apart.unlabelled"))
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
	s.Lead = w.apartLead(f)
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

func (w words) apartLead(f *review.Findings) string {
	for _, t := range f.Units {
		if t.Outcome == review.Adjustments && t.Dimension == "clinician" {
			return w.funnelLead(t)
		}
	}
	return w.funnelLead(f.Units[0])
}

func (w words) funnelLead(t review.UnitTable) string {
	judged, near, far := pointsOutside(t)
	title, who := w.outcomeTitle(t.Outcome), w.units(t.Dimension)
	if judged < 2 {
		return w.Say("funnel.too_few", "outcome", title, "units", who)
	}
	if near+far == 0 {
		return w.Say("funnel.inside", "outcome", title, "judged", judged, "units", who)
	}
	return w.Say("funnel.outside",
		"outcome", title, "judged", judged, "units", who, "far", far, "near", near, "chance", w.number(review.Num(0.05*float64(judged)), 1))
}

// units names several units of a kind.
func (w words) units(dimension string) string { return w.or("units.*", dimension, spaced(dimension)) }

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
	lead := w.funnelLead(t)
	fig := figure{ID: "funnel-" + t.Dimension + "-" + t.Outcome, Title: w.funnelTitle(t), Lead: lead, Alt: lead}
	fig.SVG = template.HTML(chart.DrawFunnel(w.Catalogue, dots, funnelLimits(t), w.or("outcome.*.expected", t.Outcome, w.Say("funnel.events")), w.titled(fig.Title, lead)))
	fig.Caption = w.Say("funnel.caption") + " " + w.dispersion(t)
	fig.Table = unitTable(t, w)
	return fig
}

func (w words) funnelTitle(t review.UnitTable) string {
	return w.Say("funnel.title", "outcome", w.outcomeTitle(t.Outcome), "units", w.units(t.Dimension))
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

// dispersion says what widens the limits.
func (w words) dispersion(t review.UnitTable) string {
	s := ""
	if t.Dispersion > 1.05 {
		s = w.Say("funnel.scatter", "times", w.number(t.Dispersion, 1)) + " "
	}
	if t.Spread.Known() {
		s += w.Say("funnel.spread", "times", w.number(t.Spread, 1))
	}
	return s
}

// unitTable lists observed, expected, ratio and what is left of it once shrunken.
func unitTable(t review.UnitTable, w words) *table {
	who := w.or("unit.*", t.Dimension, spaced(t.Dimension))
	out := &table{Caption: w.caption(w.by(w.outcomeTitle(t.Outcome), who)), Head: w.columns("="+sentenceCase(who), "#n", "#observed", "#expected", "#ratio", "#interval", "#shrunken", "#credible_interval", "where", "method")}
	for _, u := range unitsSorted(t) {
		row := []string{sentenceCase(w.unitName(t.Dimension, u.Code)), w.count(u.Ratio.N), w.count(u.Ratio.Events), w.number(u.Expected, 1)}
		if !told(u.Ratio) {
			out.Rows = append(out.Rows, append(row, w.tooFew(u.Ratio), "", "", "", "", w.found(u.Ratio.Method)))
			continue
		}
		out.Rows = append(out.Rows, append(row, w.number(u.Ratio.Value, 2), w.ratioLimits(u.Ratio), w.number(u.Shrunk.Value, 2), w.ratioLimits(u.Shrunk), w.flag(u), w.found(u.Ratio.Method)+"; "+w.found(u.Shrunk.Method)))
	}
	return out
}

func (w words) ratioLimits(e review.Estimate) string {
	if !e.Low.Known() || !e.High.Known() {
		return ""
	}
	return w.span(w.number(e.Low, 2), w.number(e.High, 2))
}

// ratioShort is "1.16 times (1.07 to 1.24)".
func (w words) ratioShort(e review.Estimate) string {
	if !told(e) {
		return w.tooFew(e)
	}
	return w.Say("figure.times", "ratio", w.number(e.Value, 2), "range", w.ratioLimits(e))
}

// flagOf is how a message is told where a unit lies.
func flagOf(u review.UnitRatio) string {
	switch u.Flag {
	case 0:
		return "inside"
	case 2:
		return "far_above"
	case -2:
		return "far_below"
	case -1:
		return "below"
	}
	return "above"
}

func (w words) flag(u review.UnitRatio) string {
	return w.Say("unit_named.flag", "flag", flagOf(u))
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
	var rows []chart.Row
	for _, u := range unitsSorted(t) {
		r := w.againstOne(sentenceCase(w.unitName(dimension, u.Code)), u.Ratio)
		if u.Flag == 2 || u.Flag == -2 {
			r.Kind = chart.Beyond
		}
		rows = append(rows, r)
	}
	rows, drawn := w.fitRows(rows)
	title := w.funnelTitle(t)
	fig := w.drawnFigure("beside-"+dimension, title, w.funnelLead(t), func() (chart.Drawn, error) {
		return chart.Rows(rows, w.moreThanExpected(), &chart.Rule{At: 0, Name: w.Say("word.as_expected")}, title)
	})
	fig.Caption = followed(drawn, w.Say("apart.bars", "level", w.level(t.Units[0].Ratio))) + " " + w.dispersion(t)
	fig.Table = unitTable(t, w)
	for _, other := range all[1:] {
		fig.Table = joined(fig.Table, t, other, w)
	}
	fig.Table.Screen = len(fig.Table.Rows) > mostPrinted
	return fig
}

// moreThanExpected is the axis of ratios as distances from 1.
func (w words) moreThanExpected() string {
	return w.Say("apart.axis")
}

// againstOne is a ratio as a row of its distance from 1, in percent: there is a zero
// for the axis to hold.
func (w words) againstOne(name string, e review.Estimate) chart.Row {
	r := w.row(name, e)
	r.Text, r.Value, r.Low, r.High = w.ratioShort(e), 100*(r.Value-1), 100*(r.Low-1), 100*(r.High-1)
	return r
}

// joined adds another outcome's rows to a table, both with the outcome in front.
func joined(into *table, first, other review.UnitTable, w words) *table {
	if into.Head[0].ID != "outcome" {
		into.Head = append(w.columns("outcome"), into.Head...)
		into.Caption = w.caption(w.by(w.Say("table.every_outcome"), w.or("unit.*", first.Dimension, spaced(first.Dimension))))
		for i := range into.Rows {
			into.Rows[i] = append([]string{w.outcomeTitle(first.Outcome)}, into.Rows[i]...)
		}
	}
	for _, row := range unitTable(other, w).Rows {
		into.Rows = append(into.Rows, append([]string{w.outcomeTitle(other.Outcome)}, row...))
	}
	return into
}

// thought lays the order of thought beside every point outside a limit.
func thought(f *review.Findings, w words) *section {
	s := &section{ID: "thought", Title: w.Say("thought.title"), Lead: w.Say("thought.lead")}
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
	s.Notes = []string{w.Say("thought.note",
		"looked", looked, "near", w.number(review.Num(0.05*float64(looked)), 0), "far", w.number(review.Num(0.002*float64(looked)), 1))}
	return s
}

func thoughtCard(f *review.Findings, t review.UnitTable, u review.UnitRatio, w words) card {
	return card{
		Title: w.Say("thought.card", "outcome", w.outcomeTitle(t.Outcome), "unit", w.unitName(t.Dimension, u.Code), "flag", flagOf(u)),
		Texts: []string{w.Say("thought.data", "said", w.checks(u.Checks)), w.Say("thought.mix", "said", w.mix(f, t, u)), w.Say("thought.chance", "said", w.chanceOf(t.Dimension, u)),
			w.Say("thought.care")},
	}
}

// checks tells the data checks that were run and those that look odd.
func (w words) checks(c review.DataChecks) string {
	var odd, rest []string
	for _, x := range c.Named() {
		if !x.Check.Own.Value.Known() {
			continue
		}
		text := w.Say("check.one", "check", w.or("check.named.*", x.Name, spaced(x.Name)), "own", w.Percent(w.number(x.Check.Own.Value, 0)), "all", w.Percent(w.number(x.Check.All, 0)))
		if x.Check.Odd {
			odd = append(odd, text)
		} else {
			rest = append(rest, text)
		}
	}
	unlike := w.Say("check.none_odd")
	if len(odd) > 0 {
		unlike = w.Say("check.odd", "checks", strings.Join(odd, "; "))
	}
	return followed(w.Say("check.looked", "checks", strings.Join(append(odd, rest...), "; ")), unlike)
}

func (w words) mix(f *review.Findings, t review.UnitTable, u review.UnitRatio) string {
	s := w.Say("thought.events", "events", u.Ratio.Events, "expected", w.number(u.Expected, 0), "times", w.ratioShort(u.Ratio))
	for _, m := range f.Mix {
		if m.Model.Outcome == t.Outcome && m.Concordance.Known() {
			s = followed(s, w.Say("thought.concordance", "pairs", w.number(100*m.Concordance, 0)))
		}
	}
	return s
}

func (w words) chanceOf(dimension string, u review.UnitRatio) string {
	spread := w.Say("thought.spread_outside", "units", w.units(dimension))
	if u.FlagSpread == 0 {
		spread = w.Say("thought.spread_inside", "units", w.units(dimension))
	}
	guess := ""
	if told(u.Shrunk) && u.Shrunk.Value.Known() {
		guess = w.Say("thought.guess", "times", w.ratioShort(u.Shrunk))
	}
	return followed(w.Say("thought.one_in"), spread, guess)
}
