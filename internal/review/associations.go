package review

import (
	"context"
	"fmt"
	"math"
	"slices"

	"afterfit/internal/habit"
	"afterfit/internal/stats"
)

const contrastMethod = "difference of the two sides, standardised over arch, unadjusted for case mix, limits robust for patients with several dentures"

// associations sets the dentures with each habit beside those without it, for
// adjustment visits, sore spots and remakes: what the curves of time say of each pair
// before anything is adjusted for. Only what is wanted is asked for; nil wants all.
func (q *asker) associations(ctx context.Context, wanted func(habit, outcome string) bool) ([]Association, error) {
	if wanted == nil {
		wanted = func(string, string) bool { return true }
	}
	asked := []recurrent{}
	for _, r := range q.recurrents() {
		if r.outcome != Minutes { // which follow the visits
			asked = append(asked, r)
		}
	}
	var remakes first
	for _, o := range q.firsts() {
		if o.outcome == Remake {
			remakes = o
		}
	}
	var habits []habit.Habit
	for _, h := range habit.Catalogue {
		if wanted(h.ID, remakes.outcome) || slices.ContainsFunc(asked, func(r recurrent) bool { return wanted(h.ID, r.outcome) }) {
			habits = append(habits, h)
		}
	}
	if len(habits) == 0 {
		return nil, nil
	}
	c, err := q.newHabitCohort(ctx, habits, remakes, wanted)
	if err != nil {
		return nil, err
	}
	var out []Association
	for _, r := range asked {
		found, err := c.recurrentAssociations(ctx, r, wanted)
		if err != nil {
			return nil, err
		}
		out = append(out, found...)
	}
	found, err := q.firstAssociations(ctx, c, remakes)
	return append(out, found...), err
}

// firstAssociations sets the sides of a cohort's habits beside each other for a yes/no
// outcome.
func (q *asker) firstAssociations(ctx context.Context, c *cohort, o first) ([]Association, error) {
	f, err := c.firsts(ctx)
	if err != nil {
		return nil, err
	}
	return f.associations(ctx, o)
}

// side is one side of a contrast in one arch.
type side struct {
	n, events, days int64
	value, variance float64
}

// archShares weighs each arch by its dentures with the habit. An arch that lacks a
// side cannot be compared and has no share.
func archShares(with, without map[string]side) map[string]float64 {
	var total float64
	out := map[string]float64{}
	for _, a := range []string{"upper", "lower"} {
		if with[a].n > 0 && without[a].n > 0 {
			total += float64(with[a].n)
			out[a] = float64(with[a].n)
		}
	}
	for a := range out {
		out[a] /= total
	}
	return out
}

// pair builds an association from the sides by arch: with[a] and without[a].
// Arches that lack a side are left out; none left means that there is nothing
// to compare. robust, when not nil, is the variance of the difference.
func (q *asker) pair(id, outcome, unit, query string, scale float64, with, without map[string]side, robust *float64) (Association, bool) {
	shares := archShares(with, without)
	if len(shares) == 0 {
		return Association{}, false
	}
	side := func() Estimate {
		return Estimate{Level: q.s.Level, Low: Num(math.NaN()), High: Num(math.NaN()), Unit: unit, Method: contrastMethod, Query: query}
	}
	w, o, d := side(), side(), side()
	var variance float64
	for _, a := range []string{"upper", "lower"} {
		share, ok := shares[a]
		if !ok {
			continue
		}
		x, y := with[a], without[a]
		w.Value += Num(scale * share * x.value)
		o.Value += Num(scale * share * y.value)
		w.N, w.Events, w.Days = w.N+x.n, w.Events+x.events, w.Days+x.days
		o.N, o.Events, o.Days = o.N+y.n, o.Events+y.events, o.Days+y.days
		variance += share * share * (x.variance + y.variance)
	}
	if robust != nil {
		variance = *robust
	}
	se := scale * math.Sqrt(variance)
	d.Value, d.N, d.Events = w.Value-o.Value, w.N+o.N, w.Events+o.Events
	half := Num(stats.TwoSidedZ(q.s.Level) * se)
	d.Low, d.High = d.Value-half, d.Value+half
	if few := min(w.N, o.N); few < q.s.MinDentures {
		d.TooFew = q.tooFew(few)
	} else if outcome == Remake && (d.Events < 2*q.s.MinRemakes || se == 0) {
		d.TooFew = fmt.Sprintf("Too few to tell: %d in both sides together, %d or more are needed.", d.Events, 2*q.s.MinRemakes)
	}
	return Association{Habit: id, Outcome: outcome, With: w, Without: o, Difference: d}, true
}

// firstContrast is the cluster-robust variance of the difference in incidence
// standardised over arch. patients counts those of both arches even where one arch
// has no share, which moves the factor G/(G-1) by next to nothing.
func firstContrast(groups map[string]*firstCounts, days int, shares map[string]float64, pairs []unitPair, patients int64) (float64, error) {
	parts := map[string]weighted{}
	var codes []string
	for _, a := range []string{"upper", "lower"} {
		share, ok := shares[a]
		if !ok {
			continue
		}
		for _, s := range []struct {
			name string
			sign float64
		}{{"with", 1}, {"without", -1}} {
			code := s.name + "|" + a
			w, err := groups[code].influences(days, s.sign*share)
			if err != nil {
				return 0, err
			}
			parts[code], codes = w, append(codes, code)
		}
	}
	return clusterVariance(codes, parts, pairs, patients)
}
