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

var finenessNames = map[string]string{"month": "month", "quarter": "quarter", "year": "year"}

// brokenRules name the rules of a control chart, each with what was seen.
func brokenRules(t review.TimeChart) []string {
	var out []string
	for _, rule := range t.Broken {
		switch rule {
		case "beyond_limits":
			var at []string
			for _, p := range t.Points {
				if p.Beyond != 0 {
					at = append(at, p.Period+map[int]string{1: " above", -1: " below"}[p.Beyond])
				}
			}
			out = append(out, "a point beyond the limits ("+strings.Join(at, ", ")+")")
		case "shift":
			out = append(out, fmt.Sprintf("a shift: %d %ss in a row on one side of the median, %d are the most that chance allows", t.LongestRun, t.Fineness, t.RunAllowed))
		case "crossings":
			out = append(out, fmt.Sprintf("too few crossings of the median: %d, at least %d are to be expected", t.Crossings, t.CrossNeeded))
		}
	}
	return out
}

// steadyWords is a chart's verdict in a sentence.
func steadyWords(t review.TimeChart) string {
	mature := 0
	for _, p := range t.Points {
		if !p.Immature && p.N > 0 {
			mature++
		}
	}
	about := outcomeOf(t.Outcome).Title
	if t.Code != "all" {
		about += " at " + isolated(t.Code)
	}
	if mature < 2 {
		return about + ": too few periods to judge."
	}
	if broken := brokenRules(t); len(broken) > 0 {
		return about + ": not steady. Broken: " + strings.Join(broken, "; ") + "."
	}
	return fmt.Sprintf("%s: steady over %d %ss; no rule is broken.", about, mature, t.Fineness)
}

// steady answers whether it is steady, month by month.
func steady(f *review.Findings, w words) *section {
	s := &section{ID: "steady", Title: "Is it steady?", Notes: []string{
		"Case mix is taken out: each point is observed over expected, times the service’s mean. The expected count of a period is what had fallen due at the follow-up that its dentures have had, so late months can be compared; those with little due yet are drawn as rings off the line and judged by no rule.",
	}}
	for _, id := range apartOutcomes {
		for _, t := range f.Times {
			if t.Outcome == id && t.Dimension == "all" {
				s.Figures = append(s.Figures, courseFigure(t, f.Changes))
			}
		}
	}
	if len(s.Figures) == 0 {
		return nil
	}
	s.Lead = s.Figures[0].Lead
	s.Figures[0].Lead = ""
	if fig := siteCourses(f); fig != nil {
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
func course(t review.TimeChart, changes []review.ChangeResult) chart.Course {
	c := chart.Course{Center: value64(t.Center), CenterName: "mean " + number(t.Center, decimalsOf(t.Center)), Unit: "per 100 dentures", Title: steadyWords(t)}
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

func courseFigure(t review.TimeChart, changes []review.ChangeResult) figure {
	o := outcomeOf(t.Outcome)
	fig := figure{ID: "steady-" + t.Dimension + "-" + t.Outcome, Title: o.Title + " by " + finenessNames[t.Fineness] + " of records, case mix taken out", Lead: steadyWords(t)}
	fig.SVG = template.HTML(chart.DrawCourse(course(t, changes)))
	fig.Table = courseTable(t)
	fig.Table.Screen = true
	if fig.SVG != "" { // else the caption would explain a picture that is not there
		fig.Caption = courseCaption(t)
	}
	return fig
}

func courseCaption(t review.TimeChart) string {
	var n int64
	for _, p := range t.Points {
		n += p.N
	}
	s := fmt.Sprintf("n = %s dentures. Stepped lines: three standard errors about the mean", count(n))
	if t.SigmaZ.Known() && t.SigmaZ > 1 {
		s += fmt.Sprintf(", widened by %s for the scatter from %s to %s (Laney)", number(t.SigmaZ, 2), t.Fineness, t.Fineness)
	}
	s += ". Diamonds: beyond them; rings: too early to judge."
	if t.FalseSignal.Known() {
		s += fmt.Sprintf(" With nothing changed, the two rules on runs would still signal on %s%% of charts of this length.", number(100*t.FalseSignal, 0))
	}
	return s
}

func courseTable(t review.TimeChart) *table {
	out := &table{Caption: "Table: " + outcomeOf(t.Outcome).Title + " by " + t.Fineness, Head: []column{{sentenceCase(t.Fineness), false}, {"n", true}, {"Observed", true}, {"Expected", true}, {"Per 100, adjusted", true}, {"Limits", true}, {"Due", true}, {"Judged", false}}}
	for _, p := range t.Points {
		verdict := map[int]string{0: "inside", 1: "above", -1: "below"}[p.Beyond]
		if p.Immature {
			verdict = "too early"
		}
		due := "–"
		if p.Due.Known() {
			due = number(100*p.Due, 0) + "%"
		}
		limits := ""
		if p.Low.Known() && p.High.Known() {
			limits = number(p.Low, decimalsOf(t.Center)) + " to " + number(p.High, decimalsOf(t.Center))
		}
		out.Rows = append(out.Rows, []string{p.Period, count(p.N), count(p.Observed), number(p.Expected, 1), number(p.Value, decimalsOf(t.Center)), limits, due, verdict})
	}
	return out
}

// mostSiteCourses is how many sites a pack draws and tells; the table has them all.
const mostSiteCourses = 6

// siteCourses draws the sites of the first outcome side by side, of many those that are
// not steady.
func siteCourses(f *review.Findings) *figure {
	fig := &figure{ID: "steady-sites", Title: outcomeOf(review.Adjustments).Title + " by site, case mix taken out"}
	var svg, lead strings.Builder
	sites, shown := coursesOfSites(f)
	if len(sites) > len(shown) {
		lead.WriteString(manySites(sites, len(shown)))
	}
	for _, t := range sites {
		if fig.Table == nil {
			fig.Table = &table{Screen: true, Caption: "Table: adjustment visits by site", Head: append([]column{{"Site", false}}, courseTable(t).Head...)}
		}
		for _, row := range courseTable(t).Rows {
			fig.Table.Rows = append(fig.Table.Rows, append([]string{t.Code}, row...))
		}
	}
	for _, t := range shown {
		c := course(t, changesAt(t, f.Changes))
		c.Small, c.Unit = true, isolated(t.Code)+", per 100 dentures"
		svg.WriteString(chart.DrawCourse(c))
		if len(sites) == len(shown) {
			lead.WriteString(steadyWords(t) + " ")
		}
	}
	if fig.Table == nil {
		return nil
	}
	fig.SVG, fig.Lead = template.HTML(svg.String()), lead.String()
	if fig.SVG != "" {
		fig.Caption = "As above, each site against its own mean and limits."
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
func manySites(sites []review.TimeChart, shown int) string {
	var broken []string
	for _, t := range sites {
		if len(t.Broken) > 0 {
			broken = append(broken, isolated(t.Code))
		}
	}
	return fmt.Sprintf("Of %d sites %d are not steady: %s. Drawn: %d, those with most rules broken first.", len(sites), len(broken), none(strings.Join(broken, ", ")), shown)
}

// mostCusums is how many charts of accumulated evidence a pack draws.
const mostCusums = 6

// cusumFigure draws the sites' and the signalling clinicians' accumulated evidence.
func cusumFigure(f *review.Findings, w words) *figure {
	fig := &figure{ID: "cusum", Title: "Evidence for a raised rate, added up period by period"}
	t := &table{Screen: true, Caption: "Table: every chart of added-up evidence", Head: []column{{"Outcome", false}, {"Unit", false}, {"Looked for", true}, {"Limit", true}, {"False alarm, once in", false}, {"Highest", true}, {"Signals", false}}}
	var svg strings.Builder
	drawn, watched, signalled := 0, 0, 0
	for _, c := range f.Cusums {
		name := sentenceCase(w.unitName(c.Dimension, c.Code))
		if c.TooFew != "" {
			t.Rows = append(t.Rows, []string{outcomeOf(c.Outcome).Title, name, number(review.Num(c.Ratio), 2) + " times", "", "", "", strings.TrimSuffix(c.TooFew, ".")})
			continue
		}
		watched++
		highest := 0.0
		for _, p := range c.Points {
			highest = math.Max(highest, float64(p.Value))
		}
		said := "none"
		if len(c.Signals) > 0 {
			signalled++
			said = strings.Join(c.Signals, ", ")
		}
		t.Rows = append(t.Rows, []string{outcomeOf(c.Outcome).Title, name, number(review.Num(c.Ratio), 2) + " times", number(c.Limit, 1), falseAlarm(c), number(review.Num(highest), 1), said})
		if len(c.Signals) > 0 && drawn < mostCusums {
			drawn++
			svg.WriteString(chart.DrawCourse(cusumCourse(c, name)))
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
	fig.Lead = fmt.Sprintf("Of %d charts %d signalled a rate of %s times the expected one or more; with nobody’s rate raised, about %s signals would have come by chance in the time shown.", watched, signalled, number(review.Num(first.Ratio), 2), number(review.Num(expected), 1))
	fig.SVG, fig.Table = template.HTML(svg.String()), t
	fig.Caption = "Each sum rises when a period brings more than expected and never falls below zero; it starts again after a signal (diamond). The limit is set so that a chart without a raised rate signals as seldom as the table states. " + sentenceCase(signalNote)
	return fig
}

const signalNote = "a signal asks for a look at the data, the case mix and chance before care."

func falseAlarm(c review.CusumChart) string {
	if !c.RunLength.Known() {
		return "practically never"
	}
	return number(c.RunLength, 0) + " " + c.Fineness + "s"
}

func cusumCourse(c review.CusumChart, name string) chart.Course {
	out := chart.Course{Small: true, Center: math.NaN(), Unit: name + ", " + strings.ToLower(outcomeOf(c.Outcome).Title), HighName: "limit",
		Title: outcomeOf(c.Outcome).Title + ", " + name + ": signals at " + strings.Join(c.Signals, ", ")}
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
