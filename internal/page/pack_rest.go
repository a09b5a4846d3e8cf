package page

import (
	"cmp"
	"regexp"
	"slices"
	"strings"

	"afterfit/internal/chart"
	"afterfit/internal/review"
)

// recordQuality shows how complete the records are and how common each habit is.
func recordQuality(f *review.Findings, w words) *section {
	if len(f.Fields) == 0 && len(f.Habits) == 0 {
		return nil
	}
	s := &section{ID: "records", Title: w.Say("records.title")}
	if len(f.Fields) > 0 {
		s.Figures = append(s.Figures, *w.fieldFigure(f.Fields))
	}
	if len(f.Habits) > 0 {
		s.Figures = append(s.Figures, *w.habitFigure(f.Habits))
	}
	if fig := w.sameFigure(f.Same); fig != nil {
		s.Figures = append(s.Figures, *fig)
	}
	s.Lead, s.Figures[0].Lead = s.Figures[0].Lead, ""
	return s
}

// shownFields is how many of the least complete fields the picture holds.
const shownFields = 10

// shownHabits is how many of the most common habits the picture holds, as many as fit
// under a heading on paper; its table has all.
const shownHabits = 12

// onOccasion are fields that stand empty in a complete record unless something happened:
// the table has them, the picture of what goes missing does not.
var onOccasion = map[string]bool{"cases.remake_of": true}

func (w words) fieldFigure(fields []review.FieldShare) *figure {
	sorted := slices.DeleteFunc(slices.Clone(fields), func(x review.FieldShare) bool { return onOccasion[x.Table+"."+x.Column] })
	slices.SortStableFunc(sorted, func(a, b review.FieldShare) int {
		switch {
		case !told(a.Recorded) || !told(b.Recorded) || a.Recorded.Value == b.Recorded.Value:
			return 0
		case a.Recorded.Value < b.Recorded.Value:
			return -1
		}
		return 1
	})
	t := &table{Screen: true, Caption: w.caption(w.Say("records.fields_table")), Head: w.columns("table", "field", "meaning", "#recorded", "#interval", "#n")}
	for _, x := range fields {
		c := w.cells(x.Recorded)
		t.Rows = append(t.Rows, []string{x.Table, x.Column, w.fieldName(x.Table, x.Column), c[0], c[1], c[3]})
	}
	var rows []chart.Row
	for _, x := range sorted[:min(shownFields, len(sorted))] {
		rows = append(rows, w.row(w.Say("records.field", "table", x.Table, "field", spaced(x.Column)), x.Recorded))
	}
	if len(sorted) == 0 {
		return &figure{ID: "completeness", Title: w.Say("records.fields"), Table: t}
	}
	first := sorted[0]
	lead := w.Say("records.least", "field", spaced(first.Column), "table", first.Table, "figure", w.full(first.Recorded))
	if !told(first.Recorded) {
		lead = w.Say("records.too_few")
	}
	fig := w.drawnFigure("completeness", w.Say("records.fields"), lead, func() (chart.Drawn, error) {
		return chart.Rows(rows, w.Say("records.axis"), nil, lead)
	})
	if fig.Table = t; fig.Options == "" {
		return fig
	}
	fig.Caption = w.Say("records.caption", "shown", len(rows), "all", len(sorted))
	return fig
}

func (w words) habitFigure(habits []review.HabitTable) *figure {
	sorted := slices.Clone(habits)
	slices.SortStableFunc(sorted, func(a, b review.HabitTable) int {
		switch {
		case !told(a.All) || !told(b.All) || a.All.Value == b.All.Value:
			return 0
		case a.All.Value > b.All.Value:
			return -1
		}
		return 1
	})
	t := &table{Screen: true, Caption: w.caption(w.Say("habits.table")), Head: w.columns("habit", "what_it_means", "#share", "#interval", "#n", "#cannot_be_told", "#lowest_to_highest_clinician_shrunken")}
	var rows []chart.Row
	for _, h := range sorted {
		c := w.cells(h.All)
		t.Rows = append(t.Rows, []string{w.habit(h.Habit), sentenceCase(w.Say("pair.who", "habit", w.habitSentence(h.Habit))), c[0], c[1], c[3], w.count(h.Missing), w.extent(h.Clinicians)})
		if len(rows) < shownHabits {
			rows = append(rows, w.row(w.habit(h.Habit), h.All))
		}
	}
	lead := w.Say("habits.lead", "habit", w.habit(sorted[0].Habit), "figure", w.full(sorted[0].All))
	if !told(sorted[0].All) {
		lead = w.Say("habits.too_few")
	}
	fig := w.drawnFigure("habit-shares", w.Say("habits.title"), lead, func() (chart.Drawn, error) {
		return chart.Rows(rows, w.Say("habits.axis"), nil, lead)
	})
	if fig.Table = t; fig.Options == "" {
		return fig
	}
	fig.Caption = w.Say("habits.caption", "shown", len(rows), "all", len(sorted))
	return fig
}

// extent is the range of clinicians' shares, unlabelled. Shrunken ones, where there are
// any: of plain shares the lowest and highest are those of the fewest cases.
func (w words) extent(values []review.GroupValue) string {
	var low, high *review.Estimate
	for i := range values {
		e := &values[i].Estimate
		if !told(*e) {
			continue
		}
		if values[i].Shrunk != nil {
			e = values[i].Shrunk
		}
		if low == nil || e.Value < low.Value {
			low = e
		}
		if high == nil || e.Value > high.Value {
			high = e
		}
	}
	if low == nil {
		return ""
	}
	return w.span(w.figureOf(*low), w.figureOf(*high))
}

func openCases(f *review.Findings, w words) *section {
	if len(f.Open) == 0 {
		return nil
	}
	return &section{ID: "open", Title: w.Say("open.title"),
		Lead:    w.Say("open.lead", "cases", len(f.Open)),
		Figures: []figure{{ID: "open-list", Table: w.caseTable(f.Open)}}}
}

func (w words) caseTable(open []review.OpenCase) *table {
	t := &table{Caption: w.Say("open.table"), Open: true, Head: w.columns("case", "site", "why")}
	for _, c := range open {
		t.Rows = append(t.Rows, []string{c.CaseID, c.Site, w.facts(c.Facts)})
	}
	return t
}

func lesions(f *review.Findings, w words) *section {
	if len(f.Lesions) == 0 {
		return nil
	}
	s := &section{ID: "lesions", Title: w.Say("lesion.title"), Lead: w.lesionLead(f.Lesions),
		Notes: []string{followed(w.Say("lesion.note"), w.lesionCaution())}}
	s.Figures = w.lesionFigures(f.Lesions)
	return s
}

// mostPlaces is how many places a list names at the most: a meeting cannot go through
// more, and thousands would make the page slow to open.
const mostPlaces = 300

// lesionFigures are the places to look at and those whose review to check, a list each.
// Of a longer list the places whose visits lie furthest apart are named.
func (w words) lesionFigures(all []review.Lesion) []figure {
	var out []figure
	for _, l := range []struct{ id, level, caption string }{
		{"lesion-check", "check", w.Say("lesion.check")},
		{"lesion-list", "look", w.Say("lesion.look")},
	} {
		of := slices.DeleteFunc(slices.Clone(all), func(x review.Lesion) bool { return x.Level != l.level })
		named := furthestApart(of)
		if len(named) == 0 {
			continue
		}
		f := figure{ID: l.id, Table: w.lesionTable(named, l.caption)}
		if len(named) < len(of) {
			f.Lead = w.Say("lesion.more", "named", len(named), "all", len(of))
		}
		out = append(out, f)
	}
	return out
}

// furthestApart keeps mostPlaces places in their order.
func furthestApart(of []review.Lesion) []review.Lesion {
	if len(of) <= mostPlaces {
		return of
	}
	order := make([]int, len(of))
	for i := range order {
		order[i] = i
	}
	apart := func(i int) int64 { return of[i].LastDay - of[i].FirstDay }
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(apart(b), apart(a)) })
	order = order[:mostPlaces]
	slices.Sort(order)
	out := make([]review.Lesion, len(order))
	for k, i := range order {
		out[k] = of[i]
	}
	return out
}

func (w words) lesionTable(l []review.Lesion, caption string) *table {
	t := &table{Caption: caption, Open: true, Head: w.columns("case", "place_own", "#first_day", "#last_day", "#days_between")}
	for _, x := range l {
		t.Rows = append(t.Rows, []string{x.CaseID, w.placeCell(x.Arch, x.Zone, x.Side), w.count(x.FirstDay), w.count(x.LastDay), w.count(x.LastDay - x.FirstDay)})
	}
	return t
}

func (w words) methodLead() string {
	return w.Say("method.lead")
}

// wordsDefined says what the outcomes on a page mean, and the words of the trade.
func (w words) wordsDefined(seen map[string]bool) (out []definition) {
	for _, id := range outcomeOrder {
		if seen[id] {
			out = append(out, definition{w.outcomeTitle(id), w.outcomeDefinition(id)})
		}
	}
	return append(out, w.glossary()...)
}

// method tells how the figures were made: what each word means, which method gave
// which interval, what the data leaves out, and the sources.
func method(f *review.Findings, w words) *section {
	s := &section{ID: "method", Title: w.Say("method.title"), Notes: w.notes(f.Coverage, f.Notes),
		Lead: w.methodLead()}
	seen := map[string]bool{}
	for _, h := range f.Headlines {
		seen[h.Outcome] = true
	}
	for _, g := range f.Groups {
		seen[g.Outcome] = true
	}
	for _, p := range f.Pairs {
		seen[p.Outcome] = true
	}
	s.Definitions = w.wordsDefined(seen)
	if len(f.Pairs)+len(f.Doses) > 0 {
		s.Figures, s.Statements = w.causes(), statements()
		s.Definitions = append(s.Definitions, w.defined("glossary", statistical)...)
	}
	s.Definitions = append(s.Definitions, definition{w.Say("method.used"), w.Say("sentence.stop", "said", strings.Join(w.methodsUsed(f), "; "))})
	return s
}

// howFew is what a method says of one group alone, which would list it once for each.
var howFew = regexp.MustCompile(`only [\d,]+ patients`)

// methodsUsed are the methods and queries behind the headline and group figures, each once, in order of appearance.
func (w words) methodsUsed(f *review.Findings) []string {
	var out []string
	add := func(method, query string) {
		s := w.found(howFew.ReplaceAllString(method, "where there are few patients"))
		if query != "" {
			s = w.Say("method.question", "method", s, "query", query)
		}
		if method != "" && !slices.Contains(out, s) {
			out = append(out, s)
		}
	}
	for _, h := range f.Headlines {
		add(h.Overall.Method, h.Overall.Query)
	}
	for _, c := range f.Curves {
		add(c.Method, c.Query)
	}
	for _, g := range f.Groups {
		for _, v := range g.Values {
			add(v.Estimate.Method, v.Estimate.Query)
		}
	}
	for _, p := range f.Strongest {
		for _, e := range []review.Estimate{p.Within.Ratio, p.CaseMix.Ratio, p.Crude.Ratio, p.Between, p.Hands, p.Missing} {
			add(e.Method, e.Query)
		}
	}
	for _, d := range f.Doses {
		add(d.Method, d.Query)
		add(d.Slope.Method, d.Slope.Query)
		add(d.Corrected.Method, d.Corrected.Query)
	}
	if len(out) == 0 {
		return []string{w.Say("method.none")}
	}
	return out
}
