package page

import (
	"html/template"
	"math"
	"slices"
	"strings"

	"afterfit/internal/chart"
	"afterfit/internal/review"
	"afterfit/internal/wording"
)

// brokenRules name the rules of a control chart, each with what was seen.
func (w words) brokenRules(t review.TimeChart) []string {
	var out []string
	for _, rule := range t.Broken {
		switch rule {
		case "beyond_limits":
			var at []string
			for _, p := range t.Points {
				if p.Beyond != 0 {
					at = append(at, w.Say("steady.beyond_at", "period", w.Period(p.Period), "way", way(review.Num(p.Beyond))))
				}
			}
			out = append(out, w.Say("steady.beyond", "points", strings.Join(at, ", ")))
		case "shift":
			out = append(out, w.Say("steady.shift", "run", t.LongestRun, "unit", t.Fineness, "allowed", t.RunAllowed))
		case "crossings":
			out = append(out, w.Say("steady.crossings", "crossings", t.Crossings, "needed", t.CrossNeeded))
		}
	}
	return out
}

// steadiness is a chart's verdict in a sentence.
func (w words) steadiness(t review.TimeChart) string {
	mature := 0
	for _, p := range t.Points {
		if !p.Immature && p.N > 0 {
			mature++
		}
	}
	about := w.outcomeTitle(t.Outcome)
	if t.Code != "all" {
		about = w.Say("steady.at", "outcome", about, "site", isolated(t.Code))
	}
	if mature < 2 {
		return w.Say("steady.too_few", "about", about)
	}
	if broken := w.brokenRules(t); len(broken) > 0 {
		return w.Say("steady.broken", "about", about, "rules", strings.Join(broken, "; "))
	}
	return w.Say("steady.holds", "about", about, "n", mature, "unit", t.Fineness)
}

// steady answers whether it is steady, month by month.
func steady(f *review.Findings, w words) *section {
	s := &section{ID: "steady", Title: w.Say("steady.title"), Notes: []string{
		w.Say("steady.note"),
	}}
	for _, id := range apartOutcomes {
		for _, t := range f.Times {
			if t.Outcome == id && t.Dimension == "all" {
				s.Figures = append(s.Figures, w.courseFigure(t, f.Changes))
			}
		}
	}
	if len(s.Figures) == 0 {
		return nil
	}
	s.Lead = s.Figures[0].Lead
	s.Figures[0].Lead = ""
	if fig := w.siteCourses(f); fig != nil {
		s.Figures = append(s.Figures, *fig)
	}
	if fig := habitCourses(f, w); fig != nil {
		s.Figures = append(s.Figures, *fig)
	}
	if fig := cusumFigure(f, w); fig != nil {
		s.Figures = append(s.Figures, *fig)
	}
	return s
}

// course turns a control chart into a picture.
func (w words) course(t review.TimeChart, changes []review.ChangeResult) chart.Course {
	c := chart.Course{Center: value64(t.Center), CenterName: w.Say("steady.mean", "mean", w.number(t.Center, decimalsOf(t.Center))), Unit: w.Say("steady.per_100"), Title: w.steadiness(t)}
	line := chart.CourseLine{Kind: chart.Service}
	for i, p := range t.Points {
		c.Periods = append(c.Periods, p.Period)
		c.Low, c.High = append(c.Low, value64(p.Low)), append(c.High, value64(p.High))
		line.Points = append(line.Points, chart.CoursePoint{At: i, Value: value64(p.Value), Open: p.Immature, Beyond: p.Beyond != 0})
	}
	c.Lines = []chart.CourseLine{line}
	for _, ch := range changes {
		if at := startOf(c.Periods, ch.Change.From); at > 0 {
			c.Marks = append(c.Marks, chart.CourseMark{At: at, Name: ch.Change.Name})
		}
	}
	return c
}

// startOf is the first period that begins with the change or later; names of periods
// of one kind stand in order of time.
func startOf(periods []string, from string) int {
	for i, p := range periods {
		if p >= from {
			return i
		}
	}
	return -1
}

func value64(n review.Num) float64 {
	if !n.Known() {
		return math.NaN()
	}
	return float64(n)
}

func decimalsOf(n review.Num) int {
	if math.Abs(float64(n)) >= 20 {
		return 0
	}
	return 1
}

func (w words) courseFigure(t review.TimeChart, changes []review.ChangeResult) figure {
	fig := figure{ID: "steady-" + t.Dimension + "-" + t.Outcome, Title: w.Say("steady.figure", "outcome", w.outcomeTitle(t.Outcome), "unit", t.Fineness), Lead: w.steadiness(t)}
	fig.SVG = template.HTML(chart.DrawCourse(w.Catalogue, w.course(t, changes)))
	fig.Table = w.courseTable(t)
	fig.Table.Screen = true
	if fig.SVG != "" { // else the caption would explain a picture that is not there
		fig.Caption = w.courseCaption(t)
	}
	return fig
}

func (w words) courseCaption(t review.TimeChart) string {
	var n int64
	for _, p := range t.Points {
		n += p.N
	}
	widened := "none"
	if t.SigmaZ.Known() && t.SigmaZ > 1 {
		widened = w.number(t.SigmaZ, 2)
	}
	s := w.Say("steady.caption",
		"n", n, "widened", widened, "unit", t.Fineness)
	if t.FalseSignal.Known() {
		s = followed(s, w.Say("steady.false_signal", "percent", w.Percent(w.number(100*t.FalseSignal, 0))))
	}
	return s
}

func (w words) courseTable(t review.TimeChart) *table {
	out := &table{Caption: w.caption(w.by(w.outcomeTitle(t.Outcome), w.fineness(t))), Head: w.columns("="+sentenceCase(w.fineness(t)), "#n", "#observed", "#expected", "#per_100_adjusted", "#limits", "#due", "judged")}
	for _, p := range t.Points {
		verdict := map[int]string{0: "inside", 1: "above", -1: "below"}[p.Beyond]
		if p.Immature {
			verdict = "early"
		}
		due := wording.None
		if p.Due.Known() {
			due = w.Percent(w.number(100*p.Due, 0))
		}
		limits := ""
		if p.Low.Known() && p.High.Known() {
			limits = w.span(w.number(p.Low, decimalsOf(t.Center)), w.number(p.High, decimalsOf(t.Center)))
		}
		out.Rows = append(out.Rows, []string{w.Period(p.Period), w.count(p.N), w.count(p.Observed), w.number(p.Expected, 1), w.number(p.Value, decimalsOf(t.Center)), limits, due, w.Say("steady.judged", "where", verdict)})
	}
	return out
}

// fineness names the period of a chart.
func (w words) fineness(t review.TimeChart) string {
	return w.Say("steady.period", "unit", t.Fineness)
}

// mostSiteCourses is how many sites a pack draws and tells; the table has them all.
const mostSiteCourses = 6

// siteCourses draws the sites of the first outcome side by side, of many those that are
// not steady.
func (w words) siteCourses(f *review.Findings) *figure {
	fig := &figure{ID: "steady-sites", Title: w.Say("steady.sites", "outcome", w.outcomeTitle(review.Adjustments))}
	var svg, lead strings.Builder
	sites, shown := coursesOfSites(f)
	if len(sites) > len(shown) {
		lead.WriteString(w.manySites(sites, len(shown)))
	}
	for _, t := range sites {
		if fig.Table == nil {
			fig.Table = &table{Screen: true, Caption: w.caption(w.by(w.outcomeName(review.Adjustments), w.Say("unit.site"))), Head: append(w.columns("site"), w.courseTable(t).Head...)}
		}
		for _, row := range w.courseTable(t).Rows {
			fig.Table.Rows = append(fig.Table.Rows, append([]string{t.Code}, row...))
		}
	}
	for _, t := range shown {
		c := w.course(t, changesAt(t, f.Changes))
		c.Small, c.Unit = true, w.Say("steady.site_unit", "site", isolated(t.Code))
		svg.WriteString(chart.DrawCourse(w.Catalogue, c))
		if len(sites) == len(shown) {
			lead.WriteString(w.steadiness(t) + " ")
		}
	}
	if fig.Table == nil {
		return nil
	}
	fig.SVG, fig.Lead = template.HTML(svg.String()), lead.String()
	if fig.SVG != "" {
		fig.Caption = w.Say("steady.sites_caption")
	}
	return fig
}

// coursesOfSites are all sites' charts of the first outcome, and those to draw.
func coursesOfSites(f *review.Findings) (sites, shown []review.TimeChart) {
	for _, t := range f.Times {
		if t.Outcome == review.Adjustments && t.Dimension == "site" {
			sites = append(sites, t)
		}
	}
	shown = slices.Clone(sites)
	if len(sites) > mostSiteCourses {
		slices.SortStableFunc(shown, func(a, b review.TimeChart) int { return len(b.Broken) - len(a.Broken) })
		shown = shown[:mostSiteCourses]
	}
	return sites, shown
}

// manySites tells in a sentence what each site's own would tell at too great a length.
func (w words) manySites(sites []review.TimeChart, shown int) string {
	var broken []string
	for _, t := range sites {
		if len(t.Broken) > 0 {
			broken = append(broken, isolated(t.Code))
		}
	}
	return w.Say("steady.many_sites", "sites", len(sites), "broken", len(broken), "names", w.none(strings.Join(broken, ", ")), "shown", shown)
}

// mostCusums is how many charts of accumulated evidence a pack draws.
const mostCusums = 6

// cusumFigure draws the sites' and the signalling clinicians' accumulated evidence.
func cusumFigure(f *review.Findings, w words) *figure {
	fig := &figure{ID: "cusum", Title: w.Say("cusum.title")}
	t := &table{Screen: true, Caption: w.caption(w.Say("cusum.table")), Head: w.columns("outcome", "unit", "#looked_for", "#limit", "false_alarm_once_in", "#highest", "signals")}
	var svg strings.Builder
	drawn, watched, signalled := 0, 0, 0
	for _, c := range f.Cusums {
		name := sentenceCase(w.unitName(c.Dimension, c.Code))
		if c.TooFew != "" {
			t.Rows = append(t.Rows, []string{w.outcomeTitle(c.Outcome), name, w.Say("cusum.times", "ratio", w.number(review.Num(c.Ratio), 2)), "", "", "", strings.TrimSuffix(w.found(c.TooFew), ".")})
			continue
		}
		watched++
		highest := 0.0
		for _, p := range c.Points {
			highest = math.Max(highest, float64(p.Value))
		}
		said := w.Say("word.none")
		if len(c.Signals) > 0 {
			signalled++
			said = w.signals(c)
		}
		t.Rows = append(t.Rows, []string{w.outcomeTitle(c.Outcome), name, w.Say("cusum.times", "ratio", w.number(review.Num(c.Ratio), 2)), w.number(c.Limit, 1), w.falseAlarm(c), w.number(review.Num(highest), 1), said})
		if len(c.Signals) > 0 && drawn < mostCusums {
			drawn++
			svg.WriteString(chart.DrawCourse(w.Catalogue, w.cusumCourse(c, name)))
		}
	}
	if watched == 0 {
		return nil
	}
	first := f.Cusums[0]
	expected := 0.0
	for _, c := range f.Cusums {
		if c.TooFew == "" && c.RunLength > 0 {
			expected += float64(len(c.Points)) / float64(c.RunLength)
		}
	}
	fig.Lead = w.Say("cusum.lead", "charts", watched, "signalled", signalled, "times", w.number(review.Num(first.Ratio), 2), "chance", w.number(review.Num(expected), 1))
	fig.SVG, fig.Table = template.HTML(svg.String()), t
	fig.Caption = w.Say("cusum.caption")
	return fig
}

// signals are the periods at which a chart signalled.
func (w words) signals(c review.CusumChart) string {
	out := make([]string, len(c.Signals))
	for i, p := range c.Signals {
		out[i] = w.Period(p)
	}
	return strings.Join(out, ", ")
}

func (w words) falseAlarm(c review.CusumChart) string {
	if !c.RunLength.Known() {
		return w.Say("cusum.never")
	}
	return w.Say("cusum.every", "n", w.number(c.RunLength, 0), "unit", c.Fineness)
}

func (w words) cusumCourse(c review.CusumChart, name string) chart.Course {
	out := chart.Course{Small: true, Center: math.NaN(), Unit: w.Say("cusum.unit", "unit", name, "outcome", w.outcomeName(c.Outcome)), HighName: w.Say("cusum.limit"),
		Title: w.Say("cusum.alt", "outcome", w.outcomeTitle(c.Outcome), "unit", name, "periods", w.signals(c))}
	line := chart.CourseLine{Kind: chart.Service}
	for i, p := range c.Points {
		out.Periods = append(out.Periods, p.Period)
		out.High, out.Low = append(out.High, value64(c.Limit)), append(out.Low, math.NaN())
		signal := p.Value >= c.Limit
		line.Points = append(line.Points, chart.CoursePoint{At: i, Value: value64(p.Value), Open: p.Immature && !signal, Beyond: signal})
	}
	out.Lines = []chart.CourseLine{line}
	return out
}
