package review

import (
	"context"
	"math"
	"slices"
	"strings"

	"afterfit/internal/habit"
)

// allPairs answers every hypothesis about a habit, with the plain difference from the
// curves of time beside where it is made.
func (q *asker) allPairs(ctx context.Context) ([]Pair, error) {
	pairs, err := q.pairFindings(ctx, habitHypotheses())
	if err != nil {
		return nil, err
	}
	plain, err := q.associations(ctx, func(habit, outcome string) bool {
		return slices.ContainsFunc(pairs, func(p Pair) bool { return p.Habit == habit && p.Outcome == outcome })
	})
	if err != nil {
		return nil, err
	}
	for i := range pairs {
		for k := range plain {
			if plain[k].Habit == pairs[i].Habit && plain[k].Outcome == pairs[i].Outcome {
				pairs[i].Plain = &plain[k]
			}
		}
	}
	return pairs, nil
}

func strongestRows(f *Findings) (rows [][]any) {
	for _, p := range f.Strongest {
		for _, r := range p.Within.rows() {
			rows = append(rows, append([]any{p.Habit, p.Outcome, p.Grade}, r...))
		}
	}
	return rows
}

// rows are the figures of a comparison with their names.
func (c Comparison) rows() [][]any {
	return [][]any{{"ratio", c.Ratio}, {"with", c.With}, {"without", c.Without}, {"difference", c.Difference}}
}

func (p Pair) rows() (rows [][]any) {
	for _, c := range []struct {
		name string
		of   Comparison
	}{{"within", p.Within}, {"case_mix", p.CaseMix}, {"crude", p.Crude}} {
		for _, r := range c.of.rows() {
			rows = append(rows, append([]any{c.name}, r...))
		}
	}
	for _, a := range p.Arches {
		rows = append(rows, []any{"within", "ratio, " + a.Code, a.Estimate})
	}
	return append(rows, []any{"between", "ratio", p.Between}, []any{"clinicians_differ", "ratio", p.Hands}, []any{"not_recorded", "events", p.Missing},
		[]any{"saved", "events", p.Saved.PerYear}, []any{"saved", "minutes", p.Saved.Minutes})
}

func pairRows(f *Findings) (rows [][]any) {
	for _, p := range f.Pairs {
		for _, r := range p.rows() {
			if !p.Control {
				rows = append(rows, append([]any{p.ID, p.Grade}, r...))
			}
		}
	}
	return rows
}

func controlRows(f *Findings) (rows [][]any) {
	for _, p := range f.Pairs {
		for _, r := range p.rows() {
			if p.Control {
				rows = append(rows, append([]any{p.ID}, r...))
			}
		}
	}
	return rows
}

var hypothesisColumns = []string{"hypothesis", "exposure", "kind", "outcome", "expected", "stated", "control", "mechanism", "source", "adjustment_set", "columns", "grade", "held_by", "p", "q", "e_value", "e_value_limit", "more_needed"}

// hypothesisRows is the whole catalogue; a quantity has a curve and no grade.
func hypothesisRows(f *Findings) (rows [][]any) {
	nan := Num(math.NaN())
	for _, h := range habit.Hypotheses {
		p := Pair{P: nan, Q: nan, EValue: nan, ELimit: nan}
		for _, one := range f.Pairs {
			if one.ID == h.ID {
				p = one
			}
		}
		rows = append(rows, []any{h.ID, h.Exposure, h.Kind, h.Outcome, h.Direction, h.Stated, h.Control, h.Mechanism, h.Source,
			strings.Join(h.Adjust(), "|"), strings.Join(h.Columns(), "|"), p.Grade, strings.Join(p.Held, "|"), p.P, p.Q, p.EValue, p.ELimit, p.More})
	}
	return rows
}
