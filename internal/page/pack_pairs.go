package page

import (
	"fmt"
	"slices"
	"strings"

	"afterfit/internal/chart"
	"afterfit/internal/habit"
	"afterfit/internal/review"
)

// pairs answers which habits go with trouble: for each outcome a picture and a table
// of all habits, then every pair to open.
func pairs(f *review.Findings, w words) *section {
	if len(f.Pairs) == 0 {
		return nil
	}
	s := &section{ID: "habits", Title: "Which habits go with trouble?", Lead: "No habit goes clearly or likely with more trouble.",
		Notes: []string{"Each line sets dentures made with a habit beside dentures made without it by the same clinician, in the same arch, with about as much trouble to be expected from their case mix. Dentures in which the habit cannot be told take no part. Differences are associations, not effects."}}
	if len(f.Strongest) > 0 {
		s.Lead = w.paired(f.Strongest[0])
	}
	for _, outcome := range outcomeOrder {
		if fig := outcomePairs(f.Pairs, outcome, w); fig != nil {
			s.Figures = append(s.Figures, *fig)
		}
	}
	if fig := controls(f.Pairs, w); fig != nil {
		s.Figures = append(s.Figures, *fig)
	}
	drawn := parts{}
	for _, p := range ordered(f.Pairs) {
		o := w.opened(p)
		o.SVG = drawn.svg(p.ID)
		s.Folds = append(s.Folds, o)
	}
	markPaper(s.Folds, ordered(f.Pairs), f.Strongest)
	s.FoldsTitle = "Open a finding"
	for _, g := range gradeOrder {
		s.Definitions = append(s.Definitions, definition{gradeWords[g].Name, sentenceCase(gradeWords[g].Meaning)})
	}
	s.Definitions = append(s.Definitions, definition{"Held alike", heldWhy}, definition{"Within clinicians", sentenceCase(f.Pairs[0].Within.Ratio.Method) + "."})
	return s
}

// ordered puts the surest first and controls last; pairs of one grade keep the order
// of the catalogue.
func ordered(all []review.Pair) []review.Pair {
	out := slices.Clone(all)
	rank := func(p review.Pair) int {
		if p.Control {
			return len(gradeOrder)
		}
		return slices.Index(gradeOrder, p.Grade)
	}
	slices.SortStableFunc(out, func(a, b review.Pair) int { return rank(a) - rank(b) })
	return out
}

// pairMost is how many habits a picture shows; its table has all.
const pairMost = 12

func outcomePairs(all []review.Pair, outcome string, w words) *figure {
	var rows []chart.Row
	t := &table{Caption: "Table: " + pairNoun(outcome) + " by habit", Head: []column{{"Habit", false}, {"Grade", false}, {"With", true}, {"Like dentures without", true},
		{"Difference (interval)", true}, {"Ratio (interval)", true}, {"Case mix only", true}, {"Crude", true}, {"q", true}, {"n with", true}, {"n without", true}, {"Not recorded", true}}}
	var with int64
	var first *review.Pair
	for _, p := range ordered(all) {
		if p.Outcome != outcome || p.Control {
			continue
		}
		if first == nil {
			first = &p
		}
		t.Rows = append(t.Rows, pairRow(w, p))
		if p.Grade != review.TooFew && len(rows) < pairMost {
			rows = append(rows, differenceRow(w, p))
			with += p.Within.With.N
		}
	}
	if first == nil {
		return nil
	}
	title := sentenceCase(pairNoun(outcome)) + ": with each habit and without"
	fig := &figure{ID: "pairs-" + outcome, Title: title, Table: t}
	if len(rows) > 0 {
		fig = drawnFigure("pairs-"+outcome, title, w.paired(*first), func() (chart.Drawn, error) {
			return chart.Rows(rows, "difference per 100 dentures", nil, title+". "+w.paired(*first))
		})
		fig.Caption = "The upright line is no difference. Diamonds: graded clear or likely, more with the habit; discs: likely, fewer; open rings: unclear or no sign of one. n after each name: dentures with the habit, and without. " +
			"Bars are " + level(first.Within.Difference) + "intervals."
		fig.Table = t
	} else {
		fig.Lead = "Too few dentures or events to tell for any habit."
	}
	return fig
}

func differenceRow(w words, p review.Pair) chart.Row {
	d := p.Within.Difference
	r := rowOf(w.habit(p.Habit), d)
	r.Name = w.habit(p.Habit) + "  n " + count(p.Within.With.N) + ", " + count(p.Within.Without.N)
	r.Text = number(d.Value, decimals(d)) + " (" + limits(d) + ")"
	switch {
	case p.Grade != review.Clear && p.Grade != review.Likely:
		r.Kind = chart.Rest
	case d.Value > 0:
		r.Kind = chart.Beyond
	}
	return r
}

func pairRow(w words, p review.Pair) []string {
	c := p.Within
	if p.Grade == review.TooFew {
		return []string{w.habit(p.Habit), gradeOf(p.Grade).Name, "", "", "", "", "", "", "", count(c.With.N), count(c.Without.N), count(p.Missing.N)}
	}
	return []string{w.habit(p.Habit), gradeOf(p.Grade).Name, figureOf(c.With), figureOf(c.Without), withLimits(c.Difference),
		withLimits(c.Ratio), figureOf(p.CaseMix.Difference), figureOf(p.Crude.Difference), number(p.Q, 3), count(c.With.N), count(c.Without.N), count(p.Missing.N)}
}

// withLimits is a figure with its limits behind it, in one cell.
func withLimits(e review.Estimate) string { return figureOf(e) + " (" + limits(e) + ")" }

// controls shows the pairs that should show nothing.
func controls(all []review.Pair, w words) *figure {
	t := &table{Caption: "Table: pairs that should show nothing", Head: []column{{"Habit", false}, {"Outcome", false}, {"Ratio", true}, {"Interval", true}, {"n with", true}, {"n without", true}}}
	beyond, n := 0, 0
	for _, p := range all {
		if !p.Control {
			continue
		}
		r := p.Within.Ratio
		if !told(r) {
			t.Rows = append(t.Rows, []string{w.habit(p.Habit), sentenceCase(pairNoun(p.Outcome)), "too few to tell", "", count(p.Within.With.N), count(p.Within.Without.N)})
			continue
		}
		n++
		if r.Low > 1 || r.High < 1 {
			beyond++
		}
		t.Rows = append(t.Rows, []string{w.habit(p.Habit), sentenceCase(pairNoun(p.Outcome)), figureOf(r), limits(r), count(p.Within.With.N), count(p.Within.Without.N)})
	}
	if len(t.Rows) == 0 {
		return nil
	}
	lead := "These pairs, whose habit can have no part in the outcome, are a check; there are too few dentures or events to tell for any."
	if n > 0 {
		lead = fmt.Sprintf("As a check, %s whose habit can have no part in the outcome: %d of %d shows a difference beyond its interval.", plural(int64(n), "pair"), beyond, n)
	}
	if beyond > 0 {
		lead += " Such a pair points to something that was not recorded; read the findings above with that in mind."
	}
	return &figure{ID: "controls", Title: "Pairs that should show nothing", Lead: lead, Table: t}
}

// opened is one pair with all that stands behind it.
func (w words) opened(p review.Pair) fold {
	f := fold{ID: "pair-" + dashed(p.ID), Summary: gradeOf(p.Grade).Name + ": " + w.habit(p.Habit) + ", " + pairNoun(p.Outcome), Text: w.paired(p)}
	if p.Control {
		f.Summary = "Control, should show nothing: " + w.habit(p.Habit) + ", " + pairNoun(p.Outcome)
	}
	add := func(term, text string) {
		if text != "" {
			f.Facts = append(f.Facts, definition{term, text})
		}
	}
	h, known := habit.FindHypothesis(p.ID)
	one, _ := habit.Find(p.Habit)
	add("The habit", w.who(p.Habit)+".")
	add("Where the habit is taken from", sourced(one.Source))
	add("It cannot be told where", one.NotAssessable)
	add("Dentures", dentures(p))
	add("The outcome", outcomeOf(p.Outcome).Definition)
	if known {
		add("Why it was looked at", h.Mechanism+" Expected: "+expected(h.Direction)+". "+statedText(p.Stated)+" Source: "+h.Source+".")
	}
	add("What held the grade back", held(p.Held))
	add("Three ways to compare", compared(p))
	add("Upper and lower", arches(p))
	add("The habit, or the person who has it?", between(p))
	add("If clinicians differ in what the habit does", hands(p))
	add("Chance", chance(p))
	add("Something not recorded", against(p))
	add("What a change might save", joinedText(saving(p), assumption))
	add("Dentures in which it could not be told", missing(p))
	if known {
		add("Held alike", "Clinician, arch, and what the causal diagram asks for: "+labels(h.Adjust())+". Columns that told dentures apart: "+none(strings.Join(p.Adjusted, ", "))+".")
		add("Assumed", strings.Join(h.Assumed(), " "))
	}
	add("How", fmt.Sprintf("Within clinicians: %s strata compared, %s dentures in strata that lack a side (afterfit ask pairs; statement %s).", count(int64(p.Within.Strata)), count(p.Within.LeftOut), p.Within.Ratio.Query))
	return f
}

// heldWhy says once what a set of things held alike is for.
const heldWhy = "The things held alike in a comparison block every path by which habit and outcome could go together without the one bringing the other; the reason for each arrow stands under “How was this worked out?”."

// sourced is a source as a sentence.
func sourced(s string) string {
	if s == "" {
		return ""
	}
	return sentenceCase(s) + "."
}

// dentures counts those that stand on each side, and those on neither.
func dentures(p review.Pair) string {
	w := p.Within
	return fmt.Sprintf("%s with the habit and %s without it could be compared within clinicians; %s more had nobody alike to compare with; in %s it could not be told.",
		count(w.With.N), count(w.Without.N), count(w.LeftOut), count(p.Missing.N))
}

func none(s string) string {
	if s == "" {
		return "none"
	}
	return s
}

func joinedText(a, b string) string {
	if a == "" {
		return ""
	}
	return a + " " + b
}

func expected(d habit.Direction) string {
	if d == habit.Either {
		return "a difference, either way"
	}
	return string(d) + " with the habit"
}

func statedText(stated bool) string {
	if stated {
		return "Stated in advance."
	}
	return "Exploratory: looked at without being stated in advance."
}

func held(rules []string) string {
	var out []string
	for _, r := range rules {
		out = append(out, heldWords[r])
	}
	if len(out) == 0 {
		return ""
	}
	return sentenceCase(strings.Join(out, "; ")) + "."
}

// compared tells the three figures side by side.
func compared(p review.Pair) string {
	var out []string
	for _, c := range []struct {
		name string
		of   review.Comparison
	}{{"Within clinicians", p.Within}, {"adjusted for case mix alone", p.CaseMix}, {"crude, by arch only", p.Crude}} {
		out = append(out, fmt.Sprintf("%s: ratio %s, difference %s per 100", c.name, short(c.of.Ratio), short(c.of.Difference)))
	}
	s := strings.Join(out, "; ") + "."
	if a := p.Plain; a != nil && told(a.Difference) {
		s += fmt.Sprintf(" From the curves of time, by arch only: %s with, %s without, difference %s.", short(a.With), short(a.Without), short(a.Difference))
	}
	return s
}

func arches(p review.Pair) string {
	var out []string
	for _, a := range p.Arches {
		out = append(out, a.Code+": ratio "+short(a.Estimate))
	}
	if len(out) == 0 {
		return ""
	}
	return sentenceCase(strings.Join(out, "; ")) + "."
}

func hands(p review.Pair) string {
	if !told(p.Hands) {
		return ""
	}
	return fmt.Sprintf("The ratio’s interval would be %s; the grade is not taken from it.", limits(p.Hands))
}

func chance(p review.Pair) string {
	switch {
	case !p.P.Known():
		return ""
	case !p.Q.Known():
		return "P = " + small(p.P) + "; controls stand outside the family."
	}
	return "P = " + small(p.P) + "; q = " + small(p.Q) + " over all pairs graded (of those called at this q, so many are expected to be chance)."
}

func small(n review.Num) string {
	if n < 0.001 {
		return "below 0.001"
	}
	return number(n, 3)
}

func missing(p review.Pair) string {
	if p.Missing.N == 0 {
		return "None."
	}
	s := count(p.Missing.N) + " dentures"
	if told(p.Missing) {
		s += fmt.Sprintf(", with %s %s per 100 (%s)", figureOf(p.Missing), pairNoun(p.Outcome), interval(p.Missing))
	}
	if p.Bounds[0].Known() && p.Bounds[1].Known() {
		s += fmt.Sprintf("; had they fallen as far as they can either way, the crude ratio would lie between %s and %s", number(p.Bounds[0], 2), number(p.Bounds[1], 2))
	}
	return s + "."
}
