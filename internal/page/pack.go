package page

import (
	"html/template"
	"slices"
	"strings"

	"afterfit/internal/chart"
	"afterfit/internal/review"
)

// packDoc lays the meeting pack out: an opening screen that carries the meeting
// alone, then a section for each question that the findings answer.
func packDoc(f *review.Findings, w words) *doc {
	d := &doc{
		Title: w.Say("pack.title"), Heading: w.Say("pack.heading"), Kicker: w.Say("pack.kicker"),
		About: About{f.Version, f.Fingerprint, f.Basis, w.Period(f.AsOf), f.Invented}, Basis: w.basisName(f.Basis),
		Opening: w.coverage(f.Coverage), Cautions: w.cautions(),
	}
	if len(f.Lesions) > 0 {
		d.Alert = &alert{w.lesionLead(f.Lesions), "lesions"}
	}
	for i, h := range f.Headlines {
		if i < 4 {
			d.Tiles = append(d.Tiles, w.tile(h))
		}
	}
	d.FindingsTitle = w.Say("pack.findings")
	for _, p := range f.Strongest {
		d.Findings = append(d.Findings, w.paired(p))
	}
	for _, build := range []func(*review.Findings, words) *section{
		standing, changedSince, pairs, measured, zoneMaps, apart, thought, steady, didItWork, howLong, recordQuality, openCases, lesions, caseMix, method,
	} {
		if s := build(f, w); s != nil {
			d.Sections = append(d.Sections, *s)
		}
	}
	return d
}

func (w words) tile(h review.Headline) tile {
	e := h.Overall
	t := tile{Title: w.outcomeTitle(h.Outcome), Figure: w.figureOf(e), Unit: w.unitOf(e), Interval: w.interval(e), N: w.Say("tile.n", "n", e.N)}
	if percent(e.Unit) {
		t.Unit = w.Say("tile.of_dentures")
	}
	if !told(e) {
		t.Figure, t.Unit, t.Interval = "–", "", w.tooFew(e)
	}
	t.Spark = w.spark(h.Trend, t.Title)
	if t.Spark != "" {
		t.N = w.Say("tile.n_line", "n", e.N, "first", w.Period(h.Trend[0].Code), "last", w.Period(h.Trend[len(h.Trend)-1].Code))
	}
	return t
}

// spark draws a trend without axes, nothing for fewer than two periods.
func (w words) spark(trend []review.GroupValue, title string) template.HTML {
	if len(trend) < 2 {
		return ""
	}
	values := make([]float64, len(trend))
	for i, v := range trend {
		values[i] = plain(v.Estimate, v.Estimate.Value)
	}
	first, last := trend[0], trend[len(trend)-1]
	return template.HTML(chart.Spark(values, w.Say("tile.spark", "outcome", title,
		"first", w.Period(first.Code), "first_figure", w.short(first.Estimate), "last", w.Period(last.Code), "last_figure", w.short(last.Estimate))))
}

// standing answers where we stand: trends, curves and the plain comparisons.
func standing(f *review.Findings, w words) *section {
	s := &section{ID: "standing", Title: w.Say("standing.title"), Notes: []string{w.Say("standing.not_adjusted")}}
	if len(f.Headlines) > 0 {
		h := f.Headlines[0]
		s.Lead = w.Say("sentence.stop", "said", w.stated(h.Outcome, h.Overall))
	}
	for _, h := range f.Headlines {
		if fig := w.trendFigure(h); fig != nil {
			s.Figures = append(s.Figures, *fig)
		}
	}
	s.Figures = append(s.Figures, w.curveFigures(f.Curves)...)
	for _, dimension := range []string{"arch", "site", "ridge_class"} {
		if fig := w.groupFigure(f, dimension); fig != nil {
			s.Figures = append(s.Figures, *fig)
		}
	}
	if s.Lead == "" && len(s.Figures) == 0 {
		return nil
	}
	return s
}

func (w words) trendFigure(h review.Headline) *figure {
	if len(h.Trend) < 2 {
		return nil
	}
	outcome := w.outcomeTitle(h.Outcome)
	rows, n := make([]chart.Row, len(h.Trend)), int64(0)
	for i, v := range h.Trend {
		rows[i] = w.row(v.Code, v.Estimate)
		rows[i].Name = w.Period(v.Code)
		n += v.Estimate.N
	}
	title := w.Say("trend.title", "outcome", outcome)
	fig := &figure{ID: "trend-" + h.Outcome, Title: title, Lead: w.Say("trend.too_few"), Caption: w.Say("caption.n", "n", n)}
	if there := slices.DeleteFunc(slices.Clone(h.Trend), func(v review.GroupValue) bool { return !told(v.Estimate) }); len(there) > 0 {
		first, last := there[0], there[len(there)-1]
		lead := w.Say("trend.from_to", "from", w.short(first.Estimate), "first", w.Period(first.Code), "to", w.short(last.Estimate), "last", w.Period(last.Code), "unit", w.unitAfter(last.Estimate))
		if first.Code == last.Code {
			lead = w.Say("trend.one", "figure", w.short(first.Estimate), "quarter", w.Period(first.Code), "unit", w.unitAfter(first.Estimate))
		}
		fig = w.drawnFigure("trend-"+h.Outcome, title, lead, func() (chart.Drawn, error) {
			return chart.Trend(rows, w.titled(w.Say("trend.by", "outcome", outcome), lead))
		})
		fig.Caption = followed(w.Say("trend.caption", "n", n, "level", w.level(last.Estimate)), w.axisNote(last.Estimate))
	}
	fig.Table = w.valueTable(w.caption(w.Say("trend.by", "outcome", outcome)), w.Say("word.quarter"), "quarter", h.Trend)
	return fig
}

// titled is a title and what is said of it, as descriptions of pictures run.
func (w words) titled(title, said string) string {
	return w.Say("sentence.titled", "title", title, "said", said)
}

func (w words) axisNote(e review.Estimate) string {
	return w.Say("caption.unit", "unit", w.axisName(e.Unit))
}

// leastCurve is how many dentures a curve or a map is drawn from: what a handful did by which day
// is no rate.
const leastCurve = 10

// curveFigures draws one picture per curve outcome with all its groups.
func (w words) curveFigures(curves []review.Curve) []figure {
	var order []string
	by := map[string][]review.Curve{}
	for _, c := range curves {
		if len(c.Points) == 0 || c.N < leastCurve {
			continue
		}
		if by[c.Outcome] == nil {
			order = append(order, c.Outcome)
		}
		by[c.Outcome] = append(by[c.Outcome], c)
	}
	var out []figure
	for _, id := range order {
		out = append(out, *w.curveFigure(id, by[id]))
	}
	return out
}

func (w words) curveFigure(id string, curves []review.Curve) *figure {
	title, share := w.or("curve.*.title", id, sentenceCase(spaced(id))), w.or("curve.*.share", id, spaced(id))
	var drawn []chart.Curve
	var leads, captions, methods []string
	top := 0.0
	t := &table{Caption: w.caption(title), Head: w.columns("group", "#day", "#share", "#interval", "#at_risk")}
	t.Head[2].Title = share
	for _, c := range curves {
		leads = append(leads, w.curveLead(c))
		captions = append(captions, w.Say("curve.caption", "group", w.group(c), "n", c.N))
		methods = append(methods, w.Say("curve.method", "method", w.found(c.Method)))
		drawn = append(drawn, w.curve(c))
		t.Rows = append(t.Rows, w.curveRows(c)...)
	}
	if id == "first_adjustment" {
		top = 100
	}
	lead := strings.Join(leads, " ") + " "
	fig := w.drawnFigure("curve-"+id, title, lead, func() (chart.Drawn, error) { return chart.Curves(w.Catalogue, drawn, top, w.titled(title, lead)) })
	fig.Caption, fig.Table = followed(append(append(captions, slices.Compact(methods)...), w.Say("curve.axis"))...), t
	return fig
}

// curveLead tells the day by which half had the event where a falling curve gets that
// far, otherwise where the curve ends.
func (w words) curveLead(c review.Curve) string {
	for _, p := range c.Points {
		if c.Outcome == "first_adjustment" && p.Y <= 0.5 {
			return w.Say("curve.half", "group", w.group(c), "day", p.Day)
		}
	}
	last := c.Points[len(c.Points)-1]
	args := []any{"group", w.group(c), "share", w.percentOf(last.Y), "range", w.percents(last), "day", last.Day}
	if s, ok := w.Named("curve.*.by_day", c.Outcome, args...); ok {
		return s
	}
	return w.Say("curve.by_day", append(args, "what", spaced(c.Outcome))...)
}

// group names a curve's group of dentures.
func (w words) group(c review.Curve) string { return sentenceCase(w.code(c.Group)) }

// percentOf is a share of 1 in percent, percents the limits of one.
func (w words) percentOf(n review.Num) string { return w.Percent(w.number(100*n, 1)) }

func (w words) percents(p review.Point) string {
	return w.span(w.number(100*p.Low, 1), w.percentOf(p.High))
}

func (w words) curve(c review.Curve) chart.Curve {
	out := chart.Curve{Name: w.group(c), Kind: chart.Service}
	switch c.Group {
	case "upper":
		out.Kind = chart.Rest
	case "lower":
		out.Kind = chart.Part
	}
	for _, p := range c.Points {
		out.Steps = append(out.Steps, chart.Step{Day: p.Day, Y: 100 * float64(p.Y), Low: 100 * float64(p.Low), High: 100 * float64(p.High)})
	}
	return out
}

// tableDays are the days at which a curve is read off for its table.
var tableDays = []int64{7, 14, 30, 60, 90, 180, 270, 365}

func (w words) curveRows(c review.Curve) [][]string {
	var rows [][]string
	for _, day := range tableDays {
		at := -1
		for i, p := range c.Points {
			if p.Day <= day {
				at = i
			}
		}
		if at < 0 || c.Points[len(c.Points)-1].Day < day && at == len(c.Points)-1 && len(rows) > 0 && day != 365 {
			continue
		}
		p := c.Points[at]
		rows = append(rows, []string{w.group(c), w.count(day), w.percentOf(p.Y), w.percents(p), w.count(p.AtRisk)})
	}
	return rows
}

// drawnFigure wraps a chart; a chart that cannot be drawn leaves sentence and table.
func (w words) drawnFigure(id, title, lead string, draw func() (chart.Drawn, error)) *figure {
	fig := &figure{ID: id, Title: title, Lead: lead, Alt: w.titled(title, lead)}
	if c, err := draw(); err == nil {
		fig.Options, fig.Height = template.JS(c.Options), c.Height
	}
	return fig
}

func (w words) row(name string, e review.Estimate) chart.Row {
	return chart.Row{Name: w.Say("chart.row", "name", name, "n", e.N), Value: plain(e, e.Value), Low: plain(e, e.Low), High: plain(e, e.High), Text: w.short(e), Kind: chart.Service}
}
