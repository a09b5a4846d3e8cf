package page

import (
	"fmt"
	"html/template"
	"slices"

	"afterfit/internal/chart"
	"afterfit/internal/review"
)

// packDoc lays the meeting pack out: an opening screen that carries the meeting
// alone, then a section for each question that the findings answer.
func packDoc(f *review.Findings, w words) *doc {
	d := &doc{
		Title: "Meeting pack", Heading: "Records, and what came after", Kicker: "Meeting pack for quality review",
		About: About{f.Version, f.Fingerprint, f.Basis, f.AsOf, f.Invented}, Basis: basisName(f.Basis),
		Opening: coverage(f.Coverage), Cautions: cautions,
	}
	if len(f.Lesions) > 0 {
		d.Alert = &alert{lesionLead(f.Lesions), "lesions"}
	}
	for i, h := range f.Headlines {
		if i < 4 {
			d.Tiles = append(d.Tiles, tileOf(h))
		}
	}
	d.FindingsTitle = "Which habits go with trouble most surely"
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

func tileOf(h review.Headline) tile {
	o, e := outcomeOf(h.Outcome), h.Overall
	t := tile{Title: o.Title, Figure: figureOf(e), Unit: unitOf(e), Interval: interval(e), N: "n = " + count(e.N) + " dentures, not adjusted"}
	if percent(e.Unit) {
		t.Unit = "of dentures"
	}
	if !told(e) {
		t.Figure, t.Unit, t.Interval = "–", "", tooFew(e)
	}
	t.Spark = spark(h.Trend, o.Title)
	if t.Spark != "" {
		t.N += "; the line runs from " + h.Trend[0].Code + " to " + h.Trend[len(h.Trend)-1].Code
	}
	return t
}

// spark draws a trend without axes, nothing for fewer than two periods.
func spark(trend []review.GroupValue, title string) template.HTML {
	if len(trend) < 2 {
		return ""
	}
	values := make([]float64, len(trend))
	for i, v := range trend {
		values[i] = plain(v.Estimate, v.Estimate.Value)
	}
	first, last := trend[0], trend[len(trend)-1]
	return template.HTML(chart.Spark(values, fmt.Sprintf("%s by quarter: %s %s, %s %s", title,
		first.Code, short(first.Estimate), last.Code, short(last.Estimate))))
}

// standing answers where we stand: trends, curves and the plain comparisons.
func standing(f *review.Findings, w words) *section {
	s := &section{ID: "standing", Title: "Where do we stand?", Notes: []string{"Figures are not adjusted for case mix: a group with harder cases shows more trouble without doing worse."}}
	if len(f.Headlines) > 0 {
		h := f.Headlines[0]
		s.Lead = stated(h.Outcome, h.Overall) + "."
	}
	for _, h := range f.Headlines {
		if fig := trendFigure(h); fig != nil {
			s.Figures = append(s.Figures, *fig)
		}
	}
	s.Figures = append(s.Figures, curveFigures(f.Curves)...)
	for _, dimension := range []string{"arch", "site", "ridge_class"} {
		if fig := groupFigure(f, dimension); fig != nil {
			s.Figures = append(s.Figures, *fig)
		}
	}
	if s.Lead == "" && len(s.Figures) == 0 {
		return nil
	}
	return s
}

func trendFigure(h review.Headline) *figure {
	if len(h.Trend) < 2 {
		return nil
	}
	o := outcomeOf(h.Outcome)
	rows, n := make([]chart.Row, len(h.Trend)), int64(0)
	for i, v := range h.Trend {
		rows[i] = rowOf(v.Code, v.Estimate)
		rows[i].Name = v.Code
		n += v.Estimate.N
	}
	title := o.Title + " by quarter of records"
	fig := &figure{ID: "trend-" + h.Outcome, Title: title, Lead: "Too few to tell in any quarter.", Caption: "n = " + count(n) + " dentures."}
	if there := slices.DeleteFunc(slices.Clone(h.Trend), func(v review.GroupValue) bool { return !told(v.Estimate) }); len(there) > 0 {
		first, last := there[0], there[len(there)-1]
		lead := fmt.Sprintf("From %s in %s to %s in %s%s.", short(first.Estimate), first.Code, short(last.Estimate), last.Code, unitAfter(last.Estimate))
		if first.Code == last.Code {
			lead = fmt.Sprintf("%s in %s%s; too few to tell in any other quarter.", short(first.Estimate), first.Code, unitAfter(first.Estimate))
		}
		fig = drawnFigure("trend-"+h.Outcome, title, lead, func() (chart.Drawn, error) { return chart.Trend(rows, o.Title+" by quarter. "+lead) })
		fig.Caption = fmt.Sprintf("n = %s dentures. The shaded area is the %sinterval of each quarter.%s", count(n), level(last.Estimate), axisNote(last.Estimate))
	}
	fig.Table = valueTable("Table: "+o.Title+" by quarter", "Quarter", "quarter", h.Trend)
	return fig
}

func axisNote(e review.Estimate) string {
	if percent(e.Unit) {
		return " Unit: % of dentures."
	}
	return " Unit: " + e.Unit + "."
}

// leastCurve is how many dentures a curve or a map is drawn from: what a handful did by which day
// is no rate.
const leastCurve = 10

// curveFigures draws one picture per curve outcome with all its groups.
func curveFigures(curves []review.Curve) []figure {
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
		out = append(out, *curveFigure(id, by[id]))
	}
	return out
}

var curveWords = map[string][2]string{
	"first_adjustment": {"Time to the first adjustment", "not yet adjusted"},
	review.Remake:      {"Time to a remake", "remade"},
}

func curveFigure(id string, curves []review.Curve) *figure {
	said, ok := curveWords[id]
	if !ok {
		said = [2]string{sentenceCase(spaced(id)), spaced(id)}
	}
	var drawn []chart.Curve
	lead, caption, top := "", "", 0.0
	t := &table{Caption: "Table: " + said[0], Head: []column{{"Group", false}, {"Day", true}, {"Share " + said[1], true}, {"Interval", true}, {"At risk", true}}}
	for _, c := range curves {
		lead += curveLead(c, said[1])
		caption += fmt.Sprintf("%s: n = %s (%s). ", sentenceCase(c.Group), count(c.N), c.Method)
		drawn = append(drawn, curveOf(c))
		t.Rows = append(t.Rows, curveRows(c)...)
	}
	if id == "first_adjustment" {
		top = 100
	}
	fig := drawnFigure("curve-"+id, said[0], lead, func() (chart.Drawn, error) { return chart.Curves(drawn, top, said[0]+". "+lead) })
	fig.Caption, fig.Table = caption+"Upright axis: % of dentures. The shaded area is the interval.", t
	return fig
}

// curveLead tells the day by which half had the event where a falling curve gets that
// far, otherwise where the curve ends.
func curveLead(c review.Curve, what string) string {
	for _, p := range c.Points {
		if c.Outcome == "first_adjustment" && p.Y <= 0.5 {
			return fmt.Sprintf("%s: half were adjusted by day %d. ", sentenceCase(c.Group), p.Day)
		}
	}
	last := c.Points[len(c.Points)-1]
	return fmt.Sprintf("%s: %s%% (%s to %s%%) %s by day %d. ", sentenceCase(c.Group), number(100*last.Y, 1), number(100*last.Low, 1), number(100*last.High, 1), what, last.Day)
}

func curveOf(c review.Curve) chart.Curve {
	out := chart.Curve{Name: sentenceCase(c.Group), Kind: chart.Service}
	if c.Group == "upper" {
		out.Kind = chart.Rest
	}
	for _, p := range c.Points {
		out.Steps = append(out.Steps, chart.Step{Day: p.Day, Y: 100 * float64(p.Y), Low: 100 * float64(p.Low), High: 100 * float64(p.High)})
	}
	return out
}

// tableDays are the days at which a curve is read off for its table.
var tableDays = []int64{7, 14, 30, 60, 90, 180, 270, 365}

func curveRows(c review.Curve) [][]string {
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
		rows = append(rows, []string{sentenceCase(c.Group), count(day), number(100*p.Y, 1) + "%", number(100*p.Low, 1) + " to " + number(100*p.High, 1) + "%", count(p.AtRisk)})
	}
	return rows
}

// drawnFigure wraps a chart; a chart that cannot be drawn leaves sentence and table.
func drawnFigure(id, title, lead string, draw func() (chart.Drawn, error)) *figure {
	fig := &figure{ID: id, Title: title, Lead: lead, Alt: title + ". " + lead}
	if c, err := draw(); err == nil {
		fig.Options, fig.Height = template.JS(c.Options), c.Height
	}
	return fig
}

func rowOf(name string, e review.Estimate) chart.Row {
	return chart.Row{Name: name + "  n " + count(e.N), Value: plain(e, e.Value), Low: plain(e, e.Low), High: plain(e, e.High), Text: short(e), Kind: chart.Service}
}
