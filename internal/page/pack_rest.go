package page

import (
	"fmt"
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
	s := &section{ID: "records", Title: "How good are our records?"}
	if len(f.Fields) > 0 {
		s.Figures = append(s.Figures, *fieldFigure(f.Fields))
	}
	if len(f.Habits) > 0 {
		s.Figures = append(s.Figures, *habitFigure(f.Habits, w))
	}
	if fig := sameFigure(f.Same); fig != nil {
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

func fieldFigure(fields []review.FieldShare) *figure {
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
	t := &table{Screen: true, Caption: "Table: every field", Head: []column{{"Table", false}, {"Field", false}, {"Meaning", false}, {"Recorded", true}, {"Interval", true}, {"n", true}}}
	for _, x := range fields {
		c := cells(x.Recorded)
		t.Rows = append(t.Rows, []string{x.Table, x.Column, fieldName(x.Table, x.Column), c[0], c[1], c[3]})
	}
	var rows []chart.Row
	for _, x := range sorted[:min(shownFields, len(sorted))] {
		rows = append(rows, rowOf(x.Table+": "+spaced(x.Column), x.Recorded))
	}
	if len(sorted) == 0 {
		return &figure{ID: "completeness", Title: "The fields least often recorded", Table: t}
	}
	first := sorted[0]
	lead := fmt.Sprintf("The field least often recorded is “%s” in the table %s: %s of rows.", spaced(first.Column), first.Table, full(first.Recorded))
	if !told(first.Recorded) {
		lead = "Too few rows to tell how often each field is recorded."
	}
	fig := drawnFigure("completeness", "The fields least often recorded", lead, func() (chart.Drawn, error) {
		return chart.Rows(rows, "% of rows with the field recorded", nil, lead)
	})
	if fig.Table = t; fig.Options == "" {
		return fig
	}
	fig.Caption = fmt.Sprintf("The %d least complete of %d fields; n after each name is rows.", len(rows), len(sorted))
	return fig
}

func habitFigure(habits []review.HabitTable, w words) *figure {
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
	t := &table{Screen: true, Caption: "Table: every habit", Head: []column{{"Habit", false}, {"What it means", false}, {"Share", true}, {"Interval", true}, {"n", true}, {"Cannot be told", true}, {"Lowest to highest clinician, shrunken", true}}}
	var rows []chart.Row
	for _, h := range sorted {
		c := cells(h.All)
		t.Rows = append(t.Rows, []string{w.habit(h.Habit), "Dentures " + w.habitSentence(h.Habit), c[0], c[1], c[3], count(h.Missing), extent(h.Clinicians)})
		if len(rows) < shownHabits {
			rows = append(rows, rowOf(w.habit(h.Habit), h.All))
		}
	}
	lead := fmt.Sprintf("The most common habit is “%s”: %s.", w.habit(sorted[0].Habit), full(sorted[0].All))
	if !told(sorted[0].All) {
		lead = "Too few dentures to tell how common any habit is."
	}
	fig := drawnFigure("habit-shares", "How common each record-taking habit is", lead, func() (chart.Drawn, error) {
		return chart.Rows(rows, "% of those in which it can be told", nil, lead)
	})
	if fig.Table = t; fig.Options == "" {
		return fig
	}
	fig.Caption = fmt.Sprintf("The %d most common of %d habits; ", len(rows), len(sorted)) + "n after each name: how many could be assessed. A habit is not a fault: section “Which habits go with trouble?” says what goes with it."
	return fig
}

// extent is the range of clinicians' shares, unlabelled. Shrunken ones, where there are
// any: of plain shares the lowest and highest are those of the fewest cases.
func extent(values []review.GroupValue) string {
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
	return figureOf(*low) + " to " + figureOf(*high)
}

func openCases(f *review.Findings, _ words) *section {
	if len(f.Open) == 0 {
		return nil
	}
	return &section{ID: "open", Title: "Which cases should we open?",
		Lead:    plural(int64(len(f.Open)), "case") + " met a rule for a closer look; being on this list is not a finding of fault.",
		Figures: []figure{{ID: "open-list", Table: caseTable(f.Open)}}}
}

func caseTable(open []review.OpenCase) *table {
	t := &table{Caption: "Cases to open, with the reason for each", Open: true, Head: []column{{"Case", false}, {"Site", false}, {"Why", false}}}
	for _, c := range open {
		t.Rows = append(t.Rows, []string{c.CaseID, c.Site, strings.Join(c.Facts, "; ")})
	}
	return t
}

func lesions(f *review.Findings, _ words) *section {
	if len(f.Lesions) == 0 {
		return nil
	}
	s := &section{ID: "lesions", Title: "Did anyone miss a lesion?", Lead: lesionLead(f.Lesions),
		Notes: []string{"A place still sore 14 days on needs a look; at 21 days check that a review is recorded. The rule reads dates and places only and knows nothing of what was seen. " + cautions[2]}}
	s.Figures = lesionFigures(f.Lesions)
	return s
}

// lesionFigures are the places to look at and those whose review to check, a list each.
func lesionFigures(all []review.Lesion) []figure {
	var out []figure
	for _, l := range []struct{ id, level, caption string }{
		{"lesion-check", "check", "Check that a review is recorded: places sore at visits 21 or more days apart"},
		{"lesion-list", "look", "Take a look: places sore at visits 14 to 20 days apart"},
	} {
		if t := lesionTable(all, l.level, l.caption); len(t.Rows) > 0 {
			out = append(out, figure{ID: l.id, Table: t})
		}
	}
	return out
}

func lesionTable(l []review.Lesion, level, caption string) *table {
	t := &table{Caption: caption, Open: true, Head: []column{{"Case", false}, {placeHead, false}, {"First day", true}, {"Last day", true}, {"Days between", true}}}
	for _, x := range l {
		if x.Level == level {
			t.Rows = append(t.Rows, []string{x.CaseID, placeCell(placeName(x.Arch, x.Zone, x.Side)), count(x.FirstDay), count(x.LastDay), count(x.LastDay - x.FirstDay)})
		}
	}
	return t
}

const methodLead = "Each denture is followed from the day its records were taken to the end of its observation, and its record values are set beside what came later."

// wordsDefined says what the outcomes on a page mean, and the words of the trade.
func wordsDefined(seen map[string]bool) (out []definition) {
	for _, id := range outcomeOrder {
		if seen[id] {
			out = append(out, definition{outcomes[id].Title, outcomes[id].Definition})
		}
	}
	return append(out, glossary...)
}

// method tells how the figures were made: what each word means, which method gave
// which interval, what the data leaves out, and the sources.
func method(f *review.Findings, _ words) *section {
	s := &section{ID: "method", Title: "How was this worked out?", Notes: notes(f.Coverage, f.Notes),
		Lead: methodLead}
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
	s.Definitions = wordsDefined(seen)
	if len(f.Pairs)+len(f.Doses) > 0 {
		s.Figures, s.Statements = causes(), statements()
	}
	s.Definitions = append(s.Definitions, definition{"Methods used", strings.Join(methodsUsed(f), "; ") + "."})
	return s
}

// howFew is what a method says of one group alone, which would list it once for each.
var howFew = regexp.MustCompile(`only [\d,]+ patients`)

// methodsUsed are the methods and queries behind the headline and group figures, each once, in order of appearance.
func methodsUsed(f *review.Findings) []string {
	var out []string
	add := func(method, query string) {
		s := howFew.ReplaceAllString(method, "where there are few patients")
		if query != "" {
			s += " (question " + query + ")"
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
		return []string{"none, for want of figures"}
	}
	return out
}
