package page

import (
	"cmp"
	"html/template"
	"math"
	"strings"

	"afterfit/internal/chart"
	"afterfit/internal/review"
	"afterfit/internal/wording"
)

// panel is one small picture of several that stand side by side.
type panel struct {
	Title, Text string
	SVG         template.HTML
}

// auditRecords sets what was recorded beside what is usual and what the house records.
func auditRecords(a *review.Audit, w words) *section {
	if len(a.Values) == 0 && len(a.Entries) == 0 {
		return nil
	}
	s := &section{ID: "records", Title: w.Say("recorded.title"), Lead: w.recordsLead(a.Values),
		Notes: []string{w.Say("recorded.note")}}
	if len(a.Values) > 0 {
		s.Figures = append(s.Figures, w.valuesFigure(a.Values))
	}
	if len(a.Entries) > 0 {
		s.Figures = append(s.Figures, figure{ID: "choices", Title: w.Say("recorded.choices"), Table: w.entryTable(a.Entries)})
	}
	return s
}

// auditHabits shows what the records of this case show.
func auditHabits(a *review.Audit, w words) *section {
	if len(a.Habits) == 0 {
		return nil
	}
	s := &section{ID: "habits", Title: w.Say("audit_habits.title"), Lead: w.Say("audit_habits.lead", "n", len(a.Habits))}
	for _, h := range a.Habits {
		s.Cards = append(s.Cards, habitCard(h, w))
	}
	return s
}

func (w words) recordsLead(values []review.AuditValue) string {
	var missing, outside []string
	for _, v := range values {
		switch name := w.valueName(v.Arch, v.Field); {
		case !v.Value.Known():
			missing = append(missing, name)
		case v.OutsideUsual():
			outside = append(outside, name)
		}
	}
	return w.Say("recorded.lead",
		"recorded", len(values)-len(missing), "all", len(values), "missing", cmp.Or(strings.Join(missing, ", "), "none"), "outside", cmp.Or(strings.Join(outside, ", "), "none"))
}

// valueName is "most tray clearance (lower)".
func (w words) valueName(arch, field string) string {
	name := w.or("record.*", field, spaced(field))
	if field == "" {
		name = w.Say("recorded.value")
	}
	if arch != "" {
		name = w.Say("recorded.of_arch", "name", name, "arch", w.code(arch))
	}
	return name
}

func (w words) valuesFigure(values []review.AuditValue) figure {
	fig := figure{ID: "values", Title: w.Say("recorded.measured")}
	t := &table{Caption: w.caption(w.Say("recorded.measured_table")), Head: w.columns("value", "#this_case", "#usual", "where_usual_comes_from", "#house_middle_nine_tenths", "#house_median", "#n")}
	for _, v := range values {
		own, usual := w.Say("word.not_recorded"), wording.None
		if v.Value.Known() {
			own = w.inUnit(v.Field, w.plainNumber(v.Value))
			fig.Panels = append(fig.Panels, w.valuePanel(v, own))
		}
		if v.UsualLow.Known() {
			usual = w.inUnit(v.Field, w.span(w.plainNumber(v.UsualLow), w.plainNumber(v.UsualHigh)))
		}
		t.Rows = append(t.Rows, []string{sentenceCase(w.valueName(v.Arch, v.Field)), own, usual, w.found(v.Usual), w.inUnit(v.Field, w.span(w.plainNumber(v.P5), w.plainNumber(v.P95))), w.inUnit(v.Field, w.plainNumber(v.P50)), w.count(v.N)})
	}
	fig.Table = t
	return fig
}

func (w words) valuePanel(v review.AuditValue, own string) panel {
	name := sentenceCase(w.valueName(v.Arch, v.Field))
	said := w.Say("recorded.alt", "name", name, "own", own, "range", w.span(w.plainNumber(v.P5), w.plainNumber(v.P95)), "median", w.plainNumber(v.P50))
	where := "inside"
	switch {
	case v.OutsideUsual():
		where = "usual"
	case v.OutsideHouse():
		where = "house"
	}
	text := w.Say("recorded.panel", "n", v.N, "outside", where)
	return panel{Title: name, Text: text, SVG: template.HTML(chart.Spread{Value: float64(v.Value), Low: float64(v.P5), Mid: float64(v.P50), High: float64(v.P95),
		LowText: w.plainNumber(v.P5), HighText: w.plainNumber(v.P95), UsualLow: float64(v.UsualLow), UsualHigh: float64(v.UsualHigh), Text: own, Beyond: v.OutsideUsual() || v.OutsideHouse(), Title: said}.Draw(w.Catalogue))}
}

// plainNumber writes a reading without zeros that say nothing.
func (w words) plainNumber(n review.Num) string {
	if !n.Known() {
		return wording.None
	}
	for d := range 2 {
		if p := math.Pow(10, float64(d)); math.Abs(math.Round(float64(n)*p)/p-float64(n)) < 1e-9 {
			return w.number(n, d)
		}
	}
	return w.number(n, 2)
}

func (w words) entryTable(entries []review.AuditEntry) *table {
	t := &table{Caption: w.caption(w.Say("recorded.choices_table")), Head: w.columns("choice", "this_case", "#the_same_in_the_house", "#interval", "#n")}
	for _, e := range entries {
		c := w.cells(e.Same)
		t.Rows = append(t.Rows, []string{sentenceCase(w.valueName(e.Arch, e.Field)), w.listed(e.Code), c[0], c[1], c[3]})
	}
	return t
}

func habitCard(h review.AuditHabit, w words) card {
	one, other := "", "none"
	if len(h.Arches) > 0 {
		one = w.code(h.Arches[0])
	}
	if len(h.Arches) > 1 {
		other = w.code(h.Arches[1])
	}
	c := card{Title: w.habit(h.Habit), Texts: []string{w.Say("audit_habits.shown", "arch", one, "other", other)}}
	if what := w.habitSentence(h.Habit); what != "" {
		c.Texts = []string{w.Say("audit_habits.habit", "arch", one, "other", other, "habit", what)}
	}
	return c
}

// auditBefore asks before the outcome is shown.
func auditBefore(_ *review.Audit, w words) *section {
	return &section{ID: "before", Title: w.Say("before.title"), Lead: w.Say("before.lead"), Asks: w.beforeQuestions()}
}

// auditExpected sets what was needed beside what like dentures needed.
func auditExpected(a *review.Audit, w words) *section {
	if len(a.Expected) == 0 {
		return nil
	}
	s := &section{ID: "expected", Title: w.Say("expected.title"),
		Notes: []string{w.Say("expected.note")}}
	fig := figure{ID: "expected-beside"}
	t := &table{Caption: w.caption(w.Say("expected.table")), Head: w.columns("denture", "outcome", "#this_one", "#days_followed", "#like_dentures", "#interval", "#n", "#as_many_or_more", "alike_in", "method")}
	for _, x := range a.Expected {
		c, many := w.cells(x.Like), w.short(x.AsMany)
		own := w.count(x.Observed)
		if percent(x.Like.Unit) {
			own, many = w.yesNo(x.Observed == 1), wording.None
		}
		t.Rows = append(t.Rows, []string{sentenceCase(w.code(x.Arch)), w.outcomeTitle(x.Outcome), own, w.count(x.Days), c[0], c[1], c[3], many, w.or("like.*", x.Level, spaced(x.Level)), w.found(x.Like.Method)})
		if !told(x.Like) || percent(x.Like.Unit) {
			continue
		}
		fig.Panels = append(fig.Panels, w.expectedPanel(x))
		if x.Outcome == review.Adjustments {
			s.Lead = followed(s.Lead, w.expectedSentence(x))
		}
	}
	if s.Lead == "" {
		s.Lead = w.Say("expected.too_few")
	}
	if len(fig.Panels) > 0 {
		fig.Caption = w.Say("expected.caption")
	}
	fig.Table = t
	s.Figures = []figure{fig}
	return s
}

func (w words) expectedSentence(x review.AuditExpected) string {
	s := w.Say("expected.sentence", "arch", w.code(x.Arch), "visits", x.Observed, "days", x.Days,
		"like", w.figureOf(x.Like), "interval", w.interval(x.Like), "n", x.Like.N)
	switch {
	case !told(x.AsMany) || x.Observed == 0:
	case x.AsMany.Events == 0:
		s = followed(s, w.Say("expected.none_as_many", "n", x.AsMany.N))
	default:
		s = followed(s, w.Say("expected.as_many", "n", x.AsMany.N, "events", x.AsMany.Events))
	}
	return s
}

func (w words) expectedPanel(x review.AuditExpected) panel {
	name := w.Say("sentence.about", "about", sentenceCase(w.code(x.Arch)), "said", w.outcomeName(x.Outcome))
	nan := math.NaN()
	return panel{Title: name, Text: w.Say("expected.panel", "figure", w.short(x.Like), "n", x.Like.N),
		SVG: template.HTML(chart.Spread{Value: float64(x.Observed), Low: plain(x.Like, x.Like.Low), Mid: plain(x.Like, x.Like.Value), High: plain(x.Like, x.Like.High),
			LowText: w.number(x.Like.Low, decimals(x.Like)), HighText: w.number(x.Like.High, decimals(x.Like)), UsualLow: nan, UsualHigh: nan, Zero: true, Text: w.count(x.Observed), Title: w.Say("expected.alt", "name", name, "own", x.Observed, "like", w.full(x.Like))}.Draw(w.Catalogue))}
}
