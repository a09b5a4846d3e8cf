package page

import (
	"cmp"
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
	s := w.bands(f)
	if len(f.Doses) == 0 {
		return s
	}
	if s == nil {
		s = &section{ID: "measurements", Title: w.Say("measured.title")}
	}
	s.Closed, s.Figures, s.Lead = s.Figures, nil, ""
	for i := range s.Closed {
		s.Closed[i].Title = w.Say("measured.not_adjusted", "title", s.Closed[i].Title)
		s.Closed[i].Table.drop("method") // stated once, under how this was worked out
	}
	open, closed := sorted(f.Doses)
	for _, d := range open {
		s.Figures = append(s.Figures, w.doseFigure(d))
	}
	var folded []figure
	for _, d := range closed {
		folded = append(folded, w.doseFigure(d))
	}
	s.Closed = append(folded, s.Closed...)
	s.ClosedTitle = w.Say("measured.closed")
	s.Lead, s.Figures[0].Lead = s.Figures[0].Lead, ""
	if s.Figures[0].SVG == "" { // too few to tell, as the section's lead says
		s.Figures = s.Figures[1:]
	}
	drawn := parts{w: w, prefix: "dose"}
	for i, d := range slices.Concat(open, closed) {
		s.Folds = append(s.Folds, w.doseFold(d, drawn.svg(d.ID)))
		if i > 0 {
			s.Folds[i].Paper = nothing // its figure says most of it
		}
	}
	s.FoldsTitle = w.Say("measured.folds")
	s.Notes = []string{w.Say("measured.note")}
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

func (w words) doseFigure(d review.Dose) figure {
	x := w.quantityOf(d.Exposure)
	title := w.by(sentenceCase(w.pairNoun(d.Outcome)), x.noun())
	if d.Control {
		title = w.Say("dose.control", "title", title)
	}
	fig := figure{ID: "dose-" + dashed(d.ID), Title: title, Lead: w.doseSaid(d)}
	if d.TooFew != "" {
		return fig
	}
	c := chart.Dose{Reference: value64(d.Reference), Low: value64(d.Usual[0]), High: value64(d.Usual[1]), Unit: w.Say("dose.unit", "counted", w.pairNoun(d.Outcome)), Along: x.along(), Title: w.titled(title, fig.Lead)}
	for _, p := range d.Curve {
		c.Points = append(c.Points, chart.DosePoint{X: value64(p.MM), Y: value64(p.Rate), Low: value64(p.Low), High: value64(p.High)})
	}
	for _, v := range d.Values {
		c.Counts = append(c.Counts, chart.DoseCount{X: value64(v.MM), N: v.N})
	}
	fig.SVG = template.HTML(chart.DrawDose(w.Catalogue, c))
	fig.Beside = w.doseBeside(d)
	fig.Caption = w.Say("dose.caption",
		"n", d.N, "patients", d.Patients, "events", d.Events, "level", w.level(d.Slope), "mm", w.millimetres(d.Reference)) + " " + x.definition()
	fig.Table = w.doseTable(d)
	return fig
}

// doseSaid tells a curve in a sentence or two.
func (w words) doseSaid(d review.Dose) string {
	x := w.quantityOf(d.Exposure)
	noun := w.pairNoun(d.Outcome)
	if d.TooFew != "" || len(d.At) < 2 {
		return w.Say("dose.too_few", "quantity", sentenceCase(x.noun()), "counted", noun, "why", w.within(w.found(d.TooFew)))
	}
	p := doseTelling(d)
	said := func(chance bool) string {
		return w.Say("dose.said",
			"at", sentenceCase(x.at(p.MM)), "rate", w.rate(p.Rate), "counted", noun, "mm", w.millimetres(d.Reference), "other_rate", w.rate(reference(d)), "difference", w.apartText(d, p), "chance", yes(chance))
	}
	flat := w.small(d.Flat)
	switch {
	case d.Control && d.Flat < 0.05:
		return followed(w.Say("dose.control_shows", "p", flat), said(false))
	case d.Control:
		return followed(w.Say("dose.control_holds", "p", flat), said(false))
	case d.Q < 0.05:
		return followed(said(false), w.bent(d))
	}
	return followed(w.Say("dose.unsure", "counted", noun, "quantity", x.noun(), "p", flat), said(true))
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
func (w words) apartText(d review.Dose, p review.DosePoint) string {
	base := reference(d)
	return w.Say("figure.interval_of", "figure", w.moreText(p.Rate-base, w.rate), "level", w.level(d.Slope), "range", w.moreBetween(p.Low-base, p.High-base, w.rate))
}

func (w words) rate(n review.Num) string {
	if math.Abs(float64(n)) >= 20 {
		return w.number(n, 0)
	}
	return w.number(n, 1)
}

func (w words) moreText(n review.Num, write func(review.Num) string) string {
	return w.Say("dose.more", "way", way(n), "n", write(max(n, -n)))
}

// moreBetween is "5 to 40 more" or "3 fewer to 8 more".
func (w words) moreBetween(low, high review.Num, write func(review.Num) string) string {
	switch {
	case low >= 0:
		return w.Say("dose.between_more", "low", write(low), "high", write(high))
	case high <= 0:
		return w.Say("dose.between_fewer", "low", write(-high), "high", write(-low))
	}
	return w.Say("dose.between", "fewer", write(-low), "more", write(high))
}

// bent says whether a straight line would tell the same.
func (w words) bent(d review.Dose) string {
	if d.Bent < 0.05 {
		return w.Say("dose.bends")
	}
	return w.Say("dose.straight")
}

// eachMM is a slope as a percentage for each millimetre, with its interval.
func (w words) eachMM(e review.Estimate) string {
	percentOf := func(n review.Num) string { return w.Percent(w.number(100*n, oneBelow(100*n))) }
	return w.Say("dose.each_mm", "more", w.moreText(e.Value-1, percentOf), "level", w.level(e), "range", w.moreBetween(e.Low-1, e.High-1, percentOf))
}

func oneBelow(n review.Num) int {
	if math.Abs(float64(n)) < 10 {
		return 1
	}
	return 0
}

func (w words) millimetres(n review.Num) string {
	if float64(n) == math.Trunc(float64(n)) {
		return w.number(n, 0)
	}
	return w.number(n, 1)
}

// doseBeside are the figures beside a curve: slopes, reading, tests, and what it stands on.
func (w words) doseBeside(d review.Dose) []definition {
	out := []definition{{w.Say("dose.as_read"), w.eachMM(d.Slope)}}
	switch r := d.Reading; {
	case d.Corrected.Value.Known() && r != nil:
		out = append(out, definition{w.Say("dose.corrected"), w.eachMM(d.Corrected)},
			definition{w.Say("dose.how_well"), w.Say("dose.reliability",
				"real", w.Percent(w.number(100*r.Reliability.Value, 0)), "range", w.span(w.number(100*r.Reliability.Low, 0), w.Percent(w.number(100*r.Reliability.High, 0))), "sd", w.number(r.ErrorSD, 1), "readings", r.Repeats)})
	default:
		out = append(out, definition{w.Say("dose.corrected"), followed(w.Say("dose.cannot"), w.found(d.AsRead))})
	}
	q := "none"
	if d.Q.Known() {
		q = w.small(d.Q)
	}
	return append(out, definition{w.Say("fact.chance"), w.Say("dose.chance", "flat", w.small(d.Flat), "q", q, "bent", w.small(d.Bent))})
}

// doseFold is a curve with all that stands behind it.
func (w words) doseFold(d review.Dose, svg template.HTML) fold {
	x := w.quantityOf(d.Exposure)
	f := fold{ID: "curve-of-" + dashed(d.ID), Summary: w.by(sentenceCase(w.pairNoun(d.Outcome)), x.noun()), Text: w.doseSaid(d), SVG: svg}
	if d.Control {
		f.Summary = w.Say("fact.control", "summary", f.Summary)
	}
	add := func(term, text string) {
		if text != "" {
			f.Facts = append(f.Facts, definition{term, text})
		}
	}
	h, _ := habit.FindHypothesis(d.ID)
	add(w.Say("fact.quantity"), x.definition())
	add(w.Say("fact.outcome"), w.outcomeDefinition(d.Outcome))
	add(w.Say("fact.why"), followed(w.found(h.Mechanism), w.doseStated(d), w.sourceOf(h)))
	add(w.Say("fact.dentures"), w.Say("dose.dentures",
		"n", d.N, "strata", d.Strata, "events", d.Events, "left_out", d.LeftOut, "missing", d.Missing))
	add(w.Say("fact.held"), w.heldAlike(h, d.Adjusted))
	add(w.Say("fact.assumed"), followed(w.allFound(h.Assumed())...))
	var knots []string
	for _, k := range d.Knots {
		knots = append(knots, w.millimetres(k))
	}
	add(w.Say("fact.how"), w.Say("dose.how", "method", w.found(d.Method), "knots", w.none(strings.Join(knots, ", ")), "query", d.Query, "slope_query", d.Slope.Query))
	return f
}

func (w words) doseStated(d review.Dose) string {
	if d.Control {
		return w.Say("dose.stated_control")
	}
	return followed(w.statedText(d.Stated), w.Say("dose.expected", "way", d.Direction))
}

func (w words) doseTable(d review.Dose) *table {
	t := &table{Caption: w.caption(w.by(w.pairNoun(d.Outcome), w.quantityOf(d.Exposure).noun())), Head: w.columns("#mm", "#per_100_dentures", "#difference_interval", "#ratio", "#interval", "#n_nearest", "#events")}
	base := reference(d)
	for _, p := range d.At {
		t.Rows = append(t.Rows, []string{w.millimetres(p.MM), w.rate(p.Rate), w.Say("figure.with_limits", "figure", w.rate(p.Rate-base), "range", w.span(w.rate(p.Low-base), w.rate(p.High-base))),
			w.number(p.Ratio, 2), w.span(w.number(p.RatioLow, 2), w.number(p.RatioHigh, 2)), w.count(p.N), w.count(p.Events)})
	}
	return t
}
