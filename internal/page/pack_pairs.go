package page

import (
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
	s := &section{ID: "habits", Title: w.Say("pairs.title"), Lead: w.Say("pairs.none"),
		Notes: []string{w.Say("pairs.note")}}
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
	drawn := parts{w: w}
	for _, p := range ordered(f.Pairs) {
		o := w.opened(p)
		o.SVG = drawn.svg(p.ID)
		s.Folds = append(s.Folds, o)
	}
	markPaper(s.Folds, ordered(f.Pairs), f.Strongest)
	s.FoldsTitle = w.Say("pairs.folds")
	s.Folds, s.Few = apartFromFew(s.Folds, ordered(f.Pairs))
	s.FewTitle = w.Say("pairs.few", "n", len(s.Few))
	for _, g := range gradeOrder {
		s.Definitions = append(s.Definitions, definition{w.gradeTitle(g), sentenceCase(w.gradeMeaning(g))})
	}
	s.Definitions = append(s.Definitions, definition{w.Say("fact.held"), w.Say("pairs.held")},
		definition{w.Say("pairs.within"), w.sourced(w.found(f.Pairs[0].Within.Ratio.Method))})
	return s
}

// apartFromFew takes what is too few to tell out of a list that it would make long;
// folds and pairs stand in one order.
func apartFromFew(folds []fold, pairs []review.Pair) (told, few []fold) {
	for i, p := range pairs {
		if p.Grade == review.TooFew && !p.Control {
			few = append(few, folds[i])
		} else {
			told = append(told, folds[i])
		}
	}
	return told, few
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
	t := &table{Caption: w.caption(w.Say("pairs.table", "counted", w.pairNoun(outcome))), Head: w.columns("habit", "grade", "#with", "#like_dentures_without", "#difference_interval", "#ratio_interval", "#case_mix_only", "#crude", "#q", "#n_with", "#n_without", "#not_recorded")}
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
	title := w.Say("pairs.figure", "counted", sentenceCase(w.pairNoun(outcome)))
	fig := &figure{ID: "pairs-" + outcome, Title: title, Table: t}
	if len(rows) > 0 {
		fig = w.drawnFigure("pairs-"+outcome, title, w.paired(*first), func() (chart.Drawn, error) {
			return chart.Rows(rows, w.Say("pairs.axis"), nil, w.titled(title, w.paired(*first)))
		})
		fig.Caption = w.Say("pairs.caption", "level", w.level(first.Within.Difference))
		fig.Table = t
	} else {
		fig.Lead = w.Say("pairs.too_few")
	}
	return fig
}

func differenceRow(w words, p review.Pair) chart.Row {
	d := p.Within.Difference
	r := w.row(w.habit(p.Habit), d)
	r.Name = w.Say("chart.row_two", "name", w.habit(p.Habit), "n", p.Within.With.N, "other_n", p.Within.Without.N)
	r.Text = w.Say("figure.with_limits", "figure", w.number(d.Value, decimals(d)), "range", w.limits(d))
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
		return []string{w.habit(p.Habit), w.gradeTitle(p.Grade), "", "", "", "", "", "", "", w.count(c.With.N), w.count(c.Without.N), w.count(p.Missing.N)}
	}
	return []string{w.habit(p.Habit), w.gradeTitle(p.Grade), w.figureOf(c.With), w.figureOf(c.Without), w.withLimits(c.Difference),
		w.withLimits(c.Ratio), w.figureOf(p.CaseMix.Difference), w.figureOf(p.Crude.Difference), w.number(p.Q, 3), w.count(c.With.N), w.count(c.Without.N), w.count(p.Missing.N)}
}

// controls shows the pairs that should show nothing.
func controls(all []review.Pair, w words) *figure {
	t := &table{Caption: w.caption(w.Say("controls.table")), Head: w.columns("habit", "outcome", "#ratio", "#interval", "#n_with", "#n_without")}
	beyond, n := 0, 0
	for _, p := range all {
		if !p.Control {
			continue
		}
		r := p.Within.Ratio
		if !told(r) {
			t.Rows = append(t.Rows, []string{w.habit(p.Habit), sentenceCase(w.pairNoun(p.Outcome)), w.Say("figure.too_few"), "", w.count(p.Within.With.N), w.count(p.Within.Without.N)})
			continue
		}
		n++
		if r.Low > 1 || r.High < 1 {
			beyond++
		}
		t.Rows = append(t.Rows, []string{w.habit(p.Habit), sentenceCase(w.pairNoun(p.Outcome)), w.figureOf(r), w.limits(r), w.count(p.Within.With.N), w.count(p.Within.Without.N)})
	}
	if len(t.Rows) == 0 {
		return nil
	}
	lead := w.Say("controls.too_few")
	if n > 0 {
		lead = w.Say("controls.lead", "n", n, "beyond", beyond)
	}
	if beyond > 0 {
		lead = followed(lead, w.Say("controls.beyond"))
	}
	return &figure{ID: "controls", Title: w.Say("controls.title"), Lead: lead, Table: t}
}

// opened is one pair with all that stands behind it.
func (w words) opened(p review.Pair) fold {
	f := fold{ID: "pair-" + dashed(p.ID), Text: w.paired(p)}
	f.Summary = w.Say("fact.pair", "habit", w.habit(p.Habit), "counted", w.pairNoun(p.Outcome))
	if p.Control {
		f.Summary = w.Say("fact.control", "summary", f.Summary)
	} else {
		f.Summary = w.Say("fact.graded", "grade", w.gradeTitle(p.Grade), "summary", f.Summary)
	}
	add := func(term, text string) {
		if text != "" {
			f.Facts = append(f.Facts, definition{term, text})
		}
	}
	h, known := habit.FindHypothesis(p.ID)
	one, _ := habit.Find(p.Habit)
	add(w.Say("fact.habit"), w.sourced(w.who(p.Habit)))
	add(w.Say("fact.habit_source"), w.sourced(w.found(one.Source)))
	add(w.Say("fact.not_assessable"), w.found(one.NotAssessable))
	add(w.Say("fact.dentures"), w.dentures(p))
	add(w.Say("fact.outcome"), w.outcomeDefinition(p.Outcome))
	if known {
		add(w.Say("fact.why"), followed(w.found(h.Mechanism), w.Say("fact.expected", "way", h.Direction), w.statedText(p.Stated), w.sourceOf(h)))
	}
	add(w.Say("fact.held_back"), w.heldBack(p.Held))
	add(w.Say("fact.three_ways"), w.compared(p))
	add(w.Say("fact.arches"), w.arches(p))
	add(w.Say("fact.person"), w.person(p))
	add(w.Say("fact.hands"), w.hands(p))
	add(w.Say("fact.chance"), w.chance(p))
	add(w.Say("fact.hidden"), w.against(p))
	add(w.Say("fact.saving"), w.saving(p))
	add(w.Say("fact.missing"), w.missing(p))
	if known {
		add(w.Say("fact.held"), w.heldAlike(h, p.Adjusted))
		add(w.Say("fact.assumed"), followed(w.allFound(h.Assumed())...))
	}
	add(w.Say("fact.how"), w.Say("fact.how_pair", "strata", p.Within.Strata, "left_out", p.Within.LeftOut, "query", p.Within.Ratio.Query))
	return f
}

// heldAlike says what a comparison holds alike, and by which columns.
func (w words) heldAlike(h habit.Hypothesis, columns []string) string {
	return w.Say("fact.held_alike", "things", w.nodes(h.Adjust()), "columns", w.none(strings.Join(columns, ", ")))
}

func (w words) sourceOf(h habit.Hypothesis) string {
	return w.Say("fact.source", "source", w.found(h.Source))
}

// sourced is a text as a sentence, "" where there is none.
func (w words) sourced(s string) string {
	if s == "" {
		return ""
	}
	return w.Say("sentence.stop", "said", sentenceCase(s))
}

// dentures counts those that stand on each side, and those on neither.
func (w words) dentures(p review.Pair) string {
	return w.Say("fact.compared_dentures",
		"with", p.Within.With.N, "without", p.Within.Without.N, "left_out", p.Within.LeftOut, "missing", p.Missing.N)
}

func (w words) none(s string) string {
	if s == "" {
		return w.Say("word.none")
	}
	return s
}

func (w words) statedText(stated bool) string {
	if stated {
		return w.Say("fact.stated")
	}
	return w.Say("fact.exploratory")
}

// heldBack tells what kept a pair from a surer grade.
func (w words) heldBack(rules []string) string {
	var out []string
	for _, r := range rules {
		out = append(out, w.or("held.*", r, spaced(r)))
	}
	return w.sourced(strings.Join(out, "; "))
}

// compared tells the three figures side by side.
func (w words) compared(p review.Pair) string {
	s := w.Say("fact.compared",
		"within_ratio", w.short(p.Within.Ratio), "within", w.short(p.Within.Difference), "mix_ratio", w.short(p.CaseMix.Ratio), "mix", w.short(p.CaseMix.Difference), "crude_ratio", w.short(p.Crude.Ratio), "crude", w.short(p.Crude.Difference))
	if a := p.Plain; a != nil && told(a.Difference) {
		s = followed(s, w.Say("fact.curves", "with", w.short(a.With), "without", w.short(a.Without), "difference", w.short(a.Difference)))
	}
	return s
}

func (w words) arches(p review.Pair) string {
	var out []string
	for _, a := range p.Arches {
		out = append(out, w.Say("fact.arch", "arch", w.code(a.Code), "ratio", w.short(a.Estimate)))
	}
	return w.sourced(strings.Join(out, "; "))
}

func (w words) hands(p review.Pair) string {
	if !told(p.Hands) {
		return ""
	}
	return w.Say("fact.hands_interval", "range", w.limits(p.Hands))
}

func (w words) chance(p review.Pair) string {
	switch {
	case !p.P.Known():
		return ""
	case !p.Q.Known():
		return w.Say("fact.p", "p", w.small(p.P))
	}
	return w.Say("fact.p_q", "p", w.small(p.P), "q", w.small(p.Q))
}

// small is a P value or the like.
func (w words) small(n review.Num) string {
	if n < 0.001 {
		return w.Say("figure.below", "n", w.number(0.001, 3))
	}
	return w.number(n, 3)
}

func (w words) missing(p review.Pair) string {
	if p.Missing.N == 0 {
		return w.Say("fact.missing_none")
	}
	low, high := "none", ""
	if p.Bounds[0].Known() && p.Bounds[1].Known() {
		low, high = w.number(p.Bounds[0], 2), w.number(p.Bounds[1], 2)
	}
	return w.Say("fact.missing_dentures",
		"n", p.Missing.N, "had", w.figureOr(p.Missing), "counted", w.pairNoun(p.Outcome), "interval", w.interval(p.Missing), "low", low, "high", high)
}
