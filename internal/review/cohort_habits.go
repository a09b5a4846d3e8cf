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

// habitSides are the sides of a habit in each arch, in the order of their numbers.
var habitSides = []string{"without|lower", "without|upper", "with|lower", "with|upper"}

// sides are the sides of a habit that dentures stand on.
func (d *dentures) sides(column string) *codes {
	return &codes{habitSides, smallNumbers{narrow: d.habits[column]}}
}

// sideOf is the side of a habit without its arch: 0 without the habit, 1 with it,
// notAssessable.
func sideOf(habit uint8) uint8 { return habit >> 1 }

// notAssessable is the side of a denture of which the habit cannot be assessed.
const notAssessable = 2

// newHabitCohort sets all delivered dentures on a side of each habit given. Of the yes/no
// outcomes it counts the one given, for habits that are wanted beside it, and pairs of
// dentures on different sides too.
func (q *asker) newHabitCohort(ctx context.Context, habits []habit.Habit, o first, wanted func(habit, outcome string) bool) (*cohort, error) {
	d, err := q.dentures(ctx)
	if err != nil {
		return nil, err
	}
	c := &cohort{q: q, d: d, across: true, outcomes: []first{o}}
	for i, h := range habits {
		c.dims = append(c.dims, cohortDimension{name: h.ID, No: i, of: d.sides(h.Column()), noFirsts: !wanted(h.ID, o.outcome)})
	}
	return c, c.count(ctx, "habits by side")
}

// habitPatients are the patients with a denture of which the habit can be assessed.
func (d *dentures) habitPatients(h habit.Habit) (n int64) {
	sides := d.habits[h.Column()]
	for p := range len(d.patients) - 1 {
		if sideOf(slices.Min(sides[d.patients[p]:d.patients[p+1]])) < notAssessable {
			n++
		}
	}
	return n
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

// contrastUnit is what pulls on differences are whole numbers of: fine enough that their
// rounding adds nothing to that of dayPulls.
const contrastUnit = 1e-15

// contrast sums the squared pulls of patients on a habit's difference. A pull is what
// dayPulls says, weighed: an arch weighs as many dentures as have the habit there.
func (c *cohort) contrast(r recurrent, d *cohortDimension) robustSum {
	event, end := c.weighedPulls(r, d.No)
	event, end = append(event[1:], nil, nil), append(end[1:], nil, nil) // by side and arch, the last two not assessable
	list, kind := c.d.events.counting(r.outcome)
	sides, last := d.of.narrow, uint16(r.days)
	var patients int64
	var squares wideSum
	for p := range len(c.d.patients) - 1 {
		sum, taken := int64(0), false
		for i := int(c.d.patients[p]); i < int(c.d.patients[p+1]); i++ {
			pulls := event[sides[i]]
			if pulls == nil {
				continue
			}
			taken = true
			for _, e := range list.of(i) {
				if day := e.day(); day < len(pulls) {
					sum += e.n(kind) * pulls[day]
				}
			}
			sum -= end[sides[i]][min(c.d.left[i]/2, last)]
		}
		if taken {
			patients++
			squares.add(sum, sum)
		}
	}
	return robustSum{patients, squares.value() * contrastUnit * contrastUnit}
}

// weighedPulls weighs each arch by its dentures with the habit: pulls of an event and of
// an end by side from 1 and day, nil for a side in an arch that lacks the other.
func (c *cohort) weighedPulls(r recurrent, dim int) (event, end [][]int64) {
	event, end = make([][]int64, len(habitSides)+1), make([][]int64, len(habitSides)+1)
	counts := make([]*recurrentCounts, len(habitSides))
	for i := range habitSides {
		counts[i] = c.recurrent(r, dim, i+1)
	}
	total := 0.0
	for arch := range 2 {
		if counts[arch].n > 0 {
			total += float64(counts[arch+2].n)
		}
	}
	for i, g := range counts {
		arch := i % 2
		weight := float64(counts[arch+2].n) / total
		if !(weight > 0) || counts[arch].n == 0 {
			continue
		}
		if i < 2 {
			weight = -weight
		}
		scaled := func(pulls []int64) []int64 {
			for d, p := range pulls {
				pulls[d] = int64(math.RoundToEven(1e-12 / contrastUnit * weight * float64(p)))
			}
			return pulls
		}
		p := g.dayPulls(r.days)
		event[i+1], end[i+1] = scaled(p.event), scaled(p.end)
	}
	return event, end
}

// recurrentAssociations sets the sides of each habit that is wanted beside each other for
// one outcome.
func (c *cohort) recurrentAssociations(ctx context.Context, r recurrent, wanted func(habit, outcome string) bool) ([]Association, error) {
	squares := make([]robustSum, len(c.dims))
	err := c.eachDimension(ctx, "habits beside "+strings.ReplaceAll(r.outcome, "_", " "), func(d *cohortDimension) {
		if wanted(d.name, r.outcome) {
			squares[d.No] = c.contrast(r, d)
		}
	})
	if err != nil {
		return nil, err
	}
	var out []Association
	for i, d := range c.dims {
		if !wanted(d.name, r.outcome) {
			continue
		}
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
		if t, ok := c.q.pair(d.name, r.outcome, r.unit, "denture_words", r.scale, with, without, robust); ok {
			out = append(out, t)
		}
	}
	return out, nil
}

// associations sets the sides of each habit beside each other for a yes/no outcome.
func (f *cohortFirsts) associations(ctx context.Context, one first) ([]Association, error) {
	o, err := f.outcome(one.outcome)
	if err != nil {
		return nil, err
	}
	found := make([]*Association, len(f.c.dims))
	err = onAllCores(ctx, len(found), func(i int) (err error) {
		if d := &f.c.dims[i]; !d.noFirsts {
			found[i], err = f.association(one, o, d)
		}
		return err
	})
	var out []Association
	for _, a := range found {
		if a != nil {
			out = append(out, *a)
		}
	}
	return out, err
}

// association sets the sides of one habit beside each other; nil where there are none.
func (f *cohortFirsts) association(one first, o cohortOutcome, d *cohortDimension) (*Association, error) {
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
	h, _ := habit.Find(d.name)
	variance, err := firstContrast(groups, one.days, archShares(sides["with"], sides["without"]), pairs, f.c.d.habitPatients(h))
	if err != nil {
		return nil, fmt.Errorf("%s, %s: %w", one.outcome, d.name, err)
	}
	t, ok := f.c.q.pair(d.name, one.outcome, "%", "denture_words", 100, sides["with"], sides["without"], &variance)
	if !ok {
		return nil, nil
	}
	return &t, nil
}
