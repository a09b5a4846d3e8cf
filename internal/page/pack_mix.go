package page

import (
	"strconv"
	"strings"

	"afterfit/internal/chart"
	"afterfit/internal/review"
)

func (w words) term(name string) string { return w.or("term.*", name, "") }

// caseMix shows the models behind every expected count: what they hold, how well they
// predict, and where they do not.
func caseMix(f *review.Findings, w words) *section {
	if len(f.Mix) == 0 {
		return nil
	}
	m := f.Mix[0]
	s := &section{ID: "casemix", Title: w.Say("mix.title"), Lead: w.mixLead(m)}
	s.Notes = []string{w.Say("mix.note")}
	for _, x := range f.Mix {
		for _, text := range x.Warnings {
			s.Notes = append(s.Notes, w.Say("sentence.about", "about", w.outcomeTitle(x.Model.Outcome), "said", w.found(text)))
		}
	}
	s.Figures = []figure{w.tenthsFigure(m), {ID: "mix-models", Table: w.mixSummary(f.Mix)}, {ID: "mix-left", Table: w.mixLeft(f.Mix)}, {ID: "mix-levels", Table: w.mixLevels(f.Mix)}}
	return s
}

func (w words) mixLead(m review.MixFit) string {
	var terms []string
	for _, t := range m.Model.Terms {
		terms = append(terms, w.term(t.Name))
	}
	return w.Say("mix.lead",
		"terms", strings.Join(terms, ", "), "n", m.Model.N, "period", w.span(isolated(w.Period(m.Model.First)), isolated(w.Period(m.Model.Last))), "saved", yes(m.Saved), "outcome", w.outcomeName(m.Model.Outcome), "pairs", w.numberOr(100*m.Concordance))
}

func (w words) tenthsFigure(m review.MixFit) figure {
	rows := make([]chart.Row, len(m.Tenths))
	for i, t := range m.Tenths {
		rows[i] = w.againstOne(w.Say("mix.tenth", "tenth", t.Tenth, "expected", w.number(t.Expected, 0)), t.Ratio)
	}
	title := w.Say("mix.tenths", "outcome", w.outcomeTitle(m.Model.Outcome))
	fig := w.drawnFigure("mix-tenths", title, "", func() (chart.Drawn, error) {
		return chart.Rows(rows, w.moreThanExpected(), &chart.Rule{At: 0, Name: w.Say("word.as_expected")}, title)
	})
	fig.Caption = w.Say("mix.caption")
	return *fig
}

func (w words) mixSummary(all []review.MixFit) *table {
	t := &table{Caption: w.caption(w.Say("mix.table")), Head: w.columns("outcome", "#n", "#events", "#scatter_of_patients_events", "#slope", "#interval", "#coefficients_times", "#concordance", "#observed_over_expected", "#interval")}
	for _, m := range all {
		t.Rows = append(t.Rows, []string{w.outcomeTitle(m.Model.Outcome), w.count(m.Model.N), w.count(m.Model.Events), w.number(m.Model.Dispersion, 2), w.number(m.Slope.Value, 2), w.ratioLimits(m.Slope), w.number(m.Model.Shrink, 2), w.number(m.Concordance, 2), w.number(m.Large.Value, 2), w.ratioLimits(m.Large)})
	}
	return t
}

// mixLeft is what a model had to leave out or to merge, nil where that is nothing.
func (w words) mixLeft(all []review.MixFit) *table {
	t := &table{Caption: w.caption(w.Say("mix.left")), Head: w.columns("outcome", "left_out_or_merged")}
	for _, m := range all {
		if len(m.Notes) > 0 {
			var notes []string
			for _, n := range m.Notes {
				notes = append(notes, w.mixNote(n))
			}
			t.Rows = append(t.Rows, []string{w.outcomeTitle(m.Model.Outcome), followed(notes...)})
		}
	}
	if len(t.Rows) == 0 {
		return nil
	}
	return t
}

// mixNote is a note on a model with the names of columns and codes in words.
func (w words) mixNote(text string) string {
	if a, ok := w.Told("finding.note.rare_level", text); ok {
		return w.Say("mix.rare", "term", sentenceCase(w.term(a["term"])), "level", w.value(a["term"], a["level"]), "n", wholeNumber(a["n"]), "events", wholeNumber(a["events"]), "other", w.value(a["term"], a["other"]))
	}
	if a, ok := w.Told("finding.note.unknown_level", text); ok {
		return w.Say("mix.unknown", "term", sentenceCase(w.term(a["term"])), "level", w.value(a["term"], a["level"]), "n", wholeNumber(a["n"]), "other", w.value(a["term"], a["other"]))
	}
	if a, ok := w.Told("finding.note.dropped", text); ok {
		term, level, _ := strings.Cut(a["term"], "=")
		return w.Say("mix.dropped", "term", sentenceCase(w.term(term)), "level", w.levelOr(term, level))
	}
	return w.found(text)
}

// levelOr is a level in words, "none" where a note names none.
func (w words) levelOr(term, level string) string {
	if level == "" {
		return "none"
	}
	return w.value(term, level)
}

// wholeNumber reads a whole number that a note spells out; notes are ours, so it always reads.
func wholeNumber(text string) int64 {
	n, _ := strconv.ParseInt(text, 10, 64)
	return n
}

func (w words) mixLevels(all []review.MixFit) *table {
	t := &table{Screen: true, Caption: w.caption(w.Say("mix.levels")), Head: w.columns("outcome", "characteristic", "level", "#log_ratio", "#n", "#events")}
	for _, m := range all {
		for _, term := range m.Model.Terms {
			for _, l := range term.Levels {
				name := w.value(term.Name, l.Level)
				if l.As != l.Level {
					name = w.Say("mix.counted_as", "level", name, "other", w.value(term.Name, l.As))
				}
				t.Rows = append(t.Rows, []string{w.outcomeTitle(m.Model.Outcome), sentenceCase(w.term(term.Name)), sentenceCase(name), w.number(l.Coef, 2), w.count(l.N), w.count(l.Events)})
			}
		}
	}
	return t
}
