package review

import (
	"context"
	"database/sql"
	"fmt"
	"math"

	"afterfit/internal/habit"
	"afterfit/internal/stats"
)

const contrastMethod = "difference of the two sides, standardised over arch, unadjusted for case mix, limits robust for patients with several dentures"

// associations sets the dentures with each habit beside those without it, for
// adjustment visits, sore spots and remakes: what the curves of time say of each pair
// before anything is adjusted for. Only what is wanted is asked for; nil wants all.
func (q *asker) associations(ctx context.Context, wanted func(habit, outcome string) bool) ([]Association, error) {
	var out []Association
	for i, r := range q.recurrents() {
		q.atStep("habits with and without", i, len(q.recurrents())+1)
		habits := wantedHabits(wanted, r.outcome)
		if r.outcome == Minutes || len(habits) == 0 { // minutes follow the visits
			continue
		}
		c, err := q.newHabitCohort(ctx, habits)
		if err != nil {
			return nil, err
		}
		found, err := c.recurrentAssociations(ctx, r)
		if err != nil {
			return nil, err
		}
		out = append(out, found...)
	}
	q.atStep("habits with and without", len(q.recurrents()), len(q.recurrents())+1)
	for _, o := range q.firsts() {
		if habits := wantedHabits(wanted, o.outcome); o.outcome == Remake && len(habits) > 0 {
			found, err := q.firstAssociations(ctx, habits, o)
			if err != nil {
				return nil, err
			}
			out = append(out, found...)
		}
	}
	return out, nil
}

// firstAssociations sets the sides of habits beside each other for a yes/no outcome.
func (q *asker) firstAssociations(ctx context.Context, habits []habit.Habit, o first) ([]Association, error) {
	c, err := q.newHabitCohort(ctx, habits, o)
	if err != nil {
		return nil, err
	}
	f, err := c.firsts(ctx)
	if err != nil {
		return nil, err
	}
	patients, err := q.habitPatients(ctx)
	if err != nil {
		return nil, err
	}
	return f.associations(o, patients)
}

func wantedHabits(wanted func(habit, outcome string) bool, outcome string) []habit.Habit {
	var out []habit.Habit
	for _, h := range habit.Catalogue {
		if wanted == nil || wanted(h.ID, outcome) {
			out = append(out, h)
		}
	}
	return out
}

// habitPatients are the patients behind each habit.
func (q *asker) habitPatients(ctx context.Context) (map[string]int64, error) {
	out := map[string]int64{}
	err := q.each(ctx, "habit_patients", func(rows *sql.Rows) error {
		var id string
		var n int64
		err := rows.Scan(&id, &n)
		out[id] = n
		return err
	})
	return out, err
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
