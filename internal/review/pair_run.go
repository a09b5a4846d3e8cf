package review

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"

	"afterfit/internal/habit"
	"afterfit/internal/stats"
)

// pairService is what turns a difference into a year's worth.
type pairService struct {
	years        float64
	visitMinutes float64 // per adjustment visit; NaN where never recorded
}

// pairWindow is an outcome's window and whether it counts once.
func (q *asker) pairWindow(outcome string) (days int, once, ok bool) {
	for _, r := range q.recurrents() {
		if r.outcome == outcome {
			return r.days, false, true
		}
	}
	for _, f := range q.firsts() {
		if f.outcome == outcome {
			return f.days, true, true
		}
	}
	return 0, false, false
}

// pairFindings answers every hypothesis about a habit, in the catalogue's order. Pairs
// of which one side does not exist are answered with too few to tell.
func (q *asker) pairFindings(ctx context.Context, hypotheses []habit.Hypothesis) ([]Pair, error) {
	d, err := q.dentures(ctx)
	if err != nil {
		return nil, err
	}
	service := d.pairService()
	fits := make([]*pairFit, len(hypotheses))
	for i, h := range hypotheses {
		fits[i] = newPairFit(h.Column(), h.Outcome, h.Columns())
	}
	if err := q.fitPairs(ctx, fits, newPairBasis(d, 0)); err != nil {
		return nil, err
	}
	out := make([]Pair, len(hypotheses))
	for i, h := range hypotheses {
		days, once, ok := q.pairWindow(h.Outcome)
		if !ok {
			return nil, fmt.Errorf("outcome %s has no window", h.Outcome)
		}
		if out[i], err = q.answer(h, h.Columns(), fits[i], service, days, once); err != nil {
			return nil, err
		}
	}
	return out, rankPairs(out)
}

// pairService says over how many years records were taken, by quarters where these are
// recorded, and how long the visits took that say so.
func (d *dentures) pairService() pairService {
	quarters, years := 0, map[string]bool{}
	for _, period := range d.codes["quarter"].levels {
		years[period[:min(4, len(period))]] = true
		if len(period) > 4 {
			quarters++
		}
	}
	s := pairService{years: float64(len(years)), visitMinutes: math.NaN()}
	if quarters > 0 {
		s.years = float64(quarters) / 4
	}
	minutes, visits := int64(0), int64(0)
	for _, e := range d.events.visits.all {
		if m := e.minutes(); m > 0 {
			minutes, visits = minutes+m, visits+1
		}
	}
	if visits > 0 {
		s.visitMinutes = float64(minutes) / float64(visits)
	}
	return s
}

// rankPairs gives the q-values over the family, which the negative controls do not
// belong to, and then the grades.
func rankPairs(pairs []Pair) error {
	var p []float64
	var of []int
	for i := range pairs {
		if !pairs[i].Control && pairs[i].P.Known() {
			p, of = append(p, float64(pairs[i].P)), append(of, i)
		}
	}
	adjusted, err := stats.BenjaminiHochberg(p)
	if err != nil {
		return err
	}
	for k, i := range of {
		pairs[i].Q = Num(adjusted[k])
	}
	for i := range pairs {
		pairs[i].grade()
	}
	return nil
}

// strongestPairs picks the adverse pairs, surest first. Habits that are faces of one
// thing, which the causal diagram keeps in one node, stand for one finding.
func strongestPairs(pairs []Pair, most int) []Pair {
	ranked := []Pair{}
	for _, p := range pairs {
		if p.adverse() {
			ranked = append(ranked, p)
		}
	}
	slices.SortStableFunc(ranked, func(a, b Pair) int {
		switch {
		case a.strength() > b.strength():
			return -1
		case a.strength() < b.strength():
			return 1
		}
		return strings.Compare(a.ID, b.ID)
	})
	out, seen := []Pair{}, map[string]bool{}
	for _, p := range ranked {
		face := p.Habit
		if h, ok := habit.FindHypothesis(p.ID); ok && h.Node() != "" {
			face = h.Node()
		}
		if !seen[face] && len(out) < most {
			seen[face] = true
			out = append(out, p)
		}
	}
	return out
}

// habitHypotheses are those of the catalogue that compare with and without.
func habitHypotheses() []habit.Hypothesis {
	var out []habit.Hypothesis
	for _, h := range habit.Hypotheses {
		if h.Kind == habit.OfHabit {
			out = append(out, h)
		}
	}
	return out
}
