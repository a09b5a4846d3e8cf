package review

import (
	"context"
	"database/sql"
	"fmt"
	"math"
	"math/big"
	"strings"

	"afterfit/internal/habit"
	"afterfit/internal/stats"
	"afterfit/queries"
)

// habitSides are the sides of a habit in each arch, in the order of their numbers in
// cohort_habits.
var habitSides = []string{"without|lower", "without|upper", "with|lower", "with|upper"}

// habitCohort is a cohort with a side of each habit given, still to be built.
func (q *asker) habitCohort(habits []habit.Habit) *cohort {
	c := &cohort{q: q, across: true}
	for i, h := range habits {
		c.dims = append(c.dims, cohortDimension{name: h.ID, No: i, Column: queries.NameOf(h.Column()), Type: queries.NameOf("utinyint"), codes: habitSides})
	}
	return c
}

// newHabitCohort sets all delivered dentures on a side of each habit given. Of the yes/no
// outcomes it counts the one given, for habits that are wanted beside it, and pairs of
// dentures on different sides too.
func (q *asker) newHabitCohort(ctx context.Context, habits []habit.Habit, o first, wanted func(habit, outcome string) bool) (*cohort, error) {
	c := q.habitCohort(habits)
	c.outcomes = []first{o}
	for i, d := range c.dims {
		c.dims[i].noFirsts = !wanted(d.name, o.outcome)
	}
	return c, c.build(ctx, "cohort_habits")
}

// sides cuts a recurrent outcome by side and arch: with[a] and without[a].
func (c *cohort) sides(r recurrent, dim int) (with, without map[string]side, err error) {
	with, without = map[string]side{}, map[string]side{}
	for i, s := range habitSides {
		g := c.recurrent(r, dim, i+1)
		if g.n == 0 {
			continue
		}
		row, err := g.mean(r.days)
		if err != nil {
			return nil, nil, err
		}
		name, arch, _ := strings.Cut(s, "|")
		map[string]map[string]side{"with": with, "without": without}[name][arch] = side{g.n, g.total, g.days, row.Mean, row.Variance}
	}
	return with, without, nil
}

// contrastHabit is a habit in recurrent_contrast: its number, and those of its parameters.
type contrastHabit struct{ No, First, Second int }

// contrastFill is what recurrent_contrast is filled with.
type contrastFill struct {
	Habits       []contrastHabit
	Events, Type queries.Name
	Days         int
	Parts, Part  int
}

// contrastCells bounds how many sums over patients a part of recurrent_contrast holds at
// once: each takes some 32 bytes.
const contrastCells = 4_000_000

// contrast sums the squared pulls of patients on the differences of the habits given.
func (c *cohort) contrast(ctx context.Context, r recurrent, dims []cohortDimension) ([]robustSum, error) {
	fill := contrastFill{Days: r.days + 1, Events: queries.NameOf("visits"), Type: queries.NameOf("bigint")}
	if r.outcome == SoreSpots {
		fill.Events = queries.NameOf("spots")
	}
	var args []any
	scale := make([]float64, len(dims))
	var dentures int64
	for i, d := range dims {
		w, n := c.weighedPulls(r, d.No)
		if w.large {
			fill.Type = queries.NameOf("hugeint")
		}
		args = append(args, bracketed(w.event), bracketed(w.end))
		fill.Habits = append(fill.Habits, contrastHabit{d.No, len(args) - 1, len(args)})
		scale[i] = float64(n) * float64(n)
		dentures = max(dentures, c.dentures(d.No))
	}
	fill.Parts = 1 + int(dentures)*len(dims)/contrastCells
	patients, squares := make([]int64, len(dims)), make([]big.Int, len(dims))
	for fill.Part = range fill.Parts {
		err := c.q.eachFilled(ctx, "recurrent_contrast", fill, func(rows *sql.Rows) error {
			n, sums, into := make([]int64, len(dims)), make([]*big.Int, len(dims)), []any{}
			for i := range n {
				into = append(into, &n[i], &sums[i])
			}
			if err := rows.Scan(into...); err != nil {
				return err
			}
			for i := range n {
				patients[i] += n[i]
				squares[i].Add(&squares[i], sums[i])
			}
			return nil
		}, args...)
		if err != nil {
			return nil, err
		}
	}
	out := make([]robustSum, len(dims))
	for i := range out {
		sum, _ := new(big.Float).SetInt(&squares[i]).Float64()
		out[i] = robustSum{patients[i], sum / 1e24 / scale[i]}
	}
	return out, nil
}

// dentures counts those that belong to a dimension.
func (c *cohort) dentures(dim int) (n int64) {
	for _, all := range c.left[dim] {
		for _, l := range all {
			n += l.n
		}
	}
	return n
}

// weighed are pulls on a habit's difference, by side and day: nil for a side in an arch
// that lacks the other. Large says that sums of them can leave 64 bits.
type weighed struct {
	event, end []*big.Int
	large      bool
}

// weighedPulls weighs each arch by its dentures with the habit; n is how many these are.
func (c *cohort) weighedPulls(r recurrent, dim int) (w weighed, n int64) {
	w.event, w.end = make([]*big.Int, r.days+1), make([]*big.Int, r.days+1) // of dentures that are on no side
	counts := make([]*recurrentCounts, len(habitSides))
	for i := range habitSides {
		counts[i] = c.recurrent(r, dim, i+1)
	}
	for i, g := range counts {
		arch := i % 2
		weight := counts[arch+2].n
		if weight == 0 || counts[arch].n == 0 {
			w.event, w.end = append(w.event, make([]*big.Int, r.days+1)...), append(w.end, make([]*big.Int, r.days+1)...)
			continue
		}
		if i >= 2 {
			n += weight
		} else {
			weight = -weight
		}
		p := g.dayPulls(r.days)
		for d := range p.event {
			for _, one := range []struct {
				into *[]*big.Int
				pull int64
			}{{&w.event, p.event[d]}, {&w.end, p.end[d]}} {
				v := new(big.Int).Mul(big.NewInt(weight), big.NewInt(one.pull))
				*one.into = append(*one.into, v)
				size, _ := v.Float64()
				w.large = w.large || math.Abs(size) > 1e15 // times thousands of events is still within 64 bits
			}
		}
	}
	return w, n
}

// bracketed writes numbers as a list that a statement can cast.
func bracketed(values []*big.Int) string {
	text := make([]string, len(values))
	for i, v := range values {
		text[i] = "NULL"
		if v != nil {
			text[i] = v.String()
		}
	}
	return "[" + strings.Join(text, ",") + "]"
}

// recurrentAssociations sets the sides of each habit that is wanted beside each other for
// one outcome.
func (c *cohort) recurrentAssociations(ctx context.Context, r recurrent, wanted func(habit, outcome string) bool) ([]Association, error) {
	var dims []cohortDimension
	for _, d := range c.dims {
		if wanted(d.name, r.outcome) {
			dims = append(dims, d)
		}
	}
	if len(dims) == 0 {
		return nil, nil
	}
	squares, err := c.contrast(ctx, r, dims)
	if err != nil {
		return nil, err
	}
	var out []Association
	for i, d := range dims {
		with, without, err := c.sides(r, d.No)
		if err != nil {
			return nil, err
		}
		var robust *float64
		if sq := squares[i]; sq.patients >= 2 {
			v, err := stats.RobustFromSquares(sq.squares, sq.patients)
			if err != nil {
				return nil, err
			}
			robust = &v.Variance
		}
		if t, ok := c.q.pair(d.name, r.outcome, r.unit, "recurrent_contrast", r.scale, with, without, robust); ok {
			out = append(out, t)
		}
	}
	return out, nil
}

// associations sets the sides of each habit beside each other for a yes/no outcome.
func (f *cohortFirsts) associations(one first, patients map[string]int64) ([]Association, error) {
	o, err := f.outcome(one.outcome)
	if err != nil {
		return nil, err
	}
	var out []Association
	for _, d := range f.c.dims {
		if d.noFirsts {
			continue
		}
		groups := map[string]*firstCounts{}
		sides := map[string]map[string]side{"with": {}, "without": {}}
		for i, s := range habitSides {
			g := f.group(o, d.No, i+1)
			if g.n == 0 {
				continue
			}
			point, err := g.at(one.days)
			if err != nil {
				return nil, err
			}
			groups[s] = g
			name, arch, _ := strings.Cut(s, "|")
			sides[name][arch] = side{g.n, g.events, g.days, point.Incidence[0], point.Variance[0]}
		}
		var pairs []unitPair
		for a, codeA := range habitSides {
			for b, codeB := range habitSides {
				pairs = append(pairs, f.unitPairs(o, d.No, 4*a+b+1, codeA, codeB)...)
			}
		}
		variance, err := firstContrast(groups, one.days, archShares(sides["with"], sides["without"]), pairs, patients[d.name])
		if err != nil {
			return nil, fmt.Errorf("%s, %s: %w", one.outcome, d.name, err)
		}
		if t, ok := f.c.q.pair(d.name, one.outcome, "%", "first_cross_pairs", 100, sides["with"], sides["without"], &variance); ok {
			out = append(out, t)
		}
	}
	return out, nil
}
