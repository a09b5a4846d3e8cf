package review

import (
	"context"
	"fmt"
	"maps"
	"slices"
	"sync"

	"afterfit/internal/stats"
)

// firstAdjustment is a yes/no outcome that is drawn as a curve and not compared.
const firstAdjustment = "first_adjustment"

// moved is how many dentures (or pairs) left otherwise than they would have without an
// outcome.
type moved[T any] struct {
	is, was T
	n       int64
}

// cohortFirsts are the yes/no outcomes of a cohort, as changes to how its dentures and
// their pairs would have left without them; by dimension, outcome and code number.
type cohortFirsts struct {
	c        *cohort
	outcomes []cohortOutcome
	counts   map[[3]int][]moved[unit]
	pairs    []map[int][]leftPair
	hits     map[[3]int][]moved[[2]unit]
}

// leftPair counts pairs of dentures of one patient by how they left.
type leftPair struct {
	a, b leftCount
	n    int64
}

// apartFill asks for pairs of dentures that stand apart in dimension Of: they are counted
// by their two codes as if these were dimensions of the numbers First and Second.
type apartFill struct{ Of, First, Second int }

// windows are the yes/no outcomes that are counted, and behind them the one that is drawn
// as a curve only.
func (c *cohort) windows() (of []cohortOutcome, compared int) {
	for i, o := range c.outcomes {
		of = append(of, cohortOutcome{i, o.days, o.outcome, c.d.firsts[firstKind(o.outcome)]})
	}
	return append(of, cohortOutcome{len(of), c.q.s.AdjustmentDays, firstAdjustment, c.d.firsts[firstKind(firstAdjustment)]}), len(of)
}

// firsts counts the yes/no outcomes.
func (c *cohort) firsts(ctx context.Context) (*cohortFirsts, error) {
	outcomes, compared := c.windows()
	f := &cohortFirsts{c: c, outcomes: outcomes, counts: map[[3]int][]moved[unit]{}, pairs: perDimension[[]leftPair](len(c.dims) + 2), hits: map[[3]int][]moved[[2]unit]{}}
	var mu sync.Mutex // of the maps
	stage := "yes/no outcomes by group"
	if c.across {
		stage = "habits beside yes/no outcomes"
	}
	return f, c.eachDimension(ctx, stage, func(d *cohortDimension) {
		if d.noFirsts {
			return
		}
		for _, o := range outcomes {
			if d.Curves || o.No < compared {
				counted := f.countMoved(d, o)
				mu.Lock()
				maps.Copy(f.counts, counted)
				mu.Unlock()
			}
		}
		for no, code := range f.pairings(d) {
			pairs, hits := f.countPairs(no, outcomes[:compared], code)
			f.pairs[no] = pairs
			mu.Lock()
			maps.Copy(f.hits, hits)
			mu.Unlock()
		}
	})
}

// units are how denture i leaves an outcome's window, and how it would have left
// had the outcome not happened; they differ where it did.
func (f *cohortFirsts) units(o cohortOutcome, i int) (is, was unit) {
	left := f.c.d.left[i]
	was = leftCount{day: int64(left / 2), died: left%2 == 1}.without(o.Days)
	if day := o.day[i]; int(day) <= o.Days {
		return unit{int64(day), 0}, was
	}
	return was, was
}

// countMoved counts by code the dentures that had an outcome.
func (f *cohortFirsts) countMoved(d *cohortDimension, o cohortOutcome) map[[3]int][]moved[unit] {
	n := keyTally{counted: map[uint64]int64{}} // by code, and by the places of both
	for i, day := range o.day {
		if int(day) > o.Days {
			continue
		}
		if code := d.code(i); code > 0 {
			is, was := f.units(o, i)
			n.add(uint64(code)<<40 | uint64(is.place())<<20 | uint64(was.place()))
		}
	}
	out := map[[3]int][]moved[unit]{}
	for k, n := range n.all() {
		at := [3]int{d.No, o.No, int(k >> 40)}
		out[at] = append(out[at], moved[unit]{unitAt(int(k >> 20 & (1<<20 - 1))), unitAt(int(k & (1<<20 - 1))), n})
	}
	return out
}

// pairings say which number two dentures of a patient have together in a dimension, 0 for
// none, by the dimension's number or those of apart: the code that both have, or for
// habits, whose sides are set beside each other, four times the number of the first less
// one plus that of the second.
func (f *cohortFirsts) pairings(d *cohortDimension) map[int]func(a, b int) int {
	out := map[int]func(a, b int) int{d.No: func(a, b int) int {
		x, y := d.code(a), d.code(b)
		switch {
		case f.c.across && x > 0 && y > 0:
			return 4*(x-1) + y
		case !f.c.across && x == y:
			return x
		}
		return 0
	}}
	if apart := f.c.apart; apart != nil && apart.Of == d.No {
		for no, of := range map[int]func(x, y int) int{apart.First: func(x, _ int) int { return x }, apart.Second: func(_, y int) int { return y }} {
			out[no] = func(a, b int) int {
				if x, y := d.code(a), d.code(b); x != y {
					return of(x, y)
				}
				return 0
			}
		}
	}
	return out
}

// countPairs counts pairs of dentures of one patient by their number together and by how
// they left, and by outcome those of which one or both had it.
func (f *cohortFirsts) countPairs(no int, outcomes []cohortOutcome, code func(a, b int) int) (map[int][]leftPair, map[[3]int][]moved[[2]unit]) {
	left, hit := keyTally{counted: map[uint64]int64{}}, make([]keyTally, len(outcomes)) // left by code, and by how the first and the second left
	for k := range hit {
		hit[k].counted = map[uint64]int64{} // by code, and by the ways that the two left and would have left
	}
	d := f.c.d
	for p := range len(d.patients) - 1 {
		for a := int(d.patients[p]); a < int(d.patients[p+1]); a++ {
			for b := a + 1; b < int(d.patients[p+1]); b++ {
				code := code(a, b)
				if code == 0 {
					continue
				}
				left.add(uint64(code)<<32 | uint64(d.left[a])<<16 | uint64(d.left[b]))
				for k, o := range outcomes {
					if int(min(o.day[a], o.day[b])) > o.Days {
						continue
					}
					isA, wasA := f.units(o, a)
					isB, wasB := f.units(o, b)
					hit[k].add((uint64(code)*o.ways()+uint64(o.way(isA, isB)))*o.ways() + uint64(o.way(wasA, wasB)))
				}
			}
		}
	}
	pairs, hits := map[int][]leftPair{}, map[[3]int][]moved[[2]unit]{}
	for k, n := range left.all() {
		code, a, b := int(k>>32), uint16(k>>16), uint16(k)
		pairs[code] = append(pairs[code], leftPair{leftCount{day: int64(a / 2), died: a%2 == 1}, leftCount{day: int64(b / 2), died: b%2 == 1}, n})
	}
	for i, o := range outcomes {
		ways := o.ways()
		for k, n := range hit[i].all() {
			at := [3]int{no, o.No, int(k / ways / ways)}
			hits[at] = append(hits[at], moved[[2]unit]{o.unitsAt(int(k / ways % ways)), o.unitsAt(int(k % ways)), n})
		}
	}
	return pairs, hits
}

// without is how a denture leaves a window of days that does not have the outcome.
func (l leftCount) without(days int) unit {
	switch {
	case l.day > int64(days):
		return unit{int64(days) + 1, 2}
	case l.died:
		return unit{l.day, 1}
	default:
		return unit{l.day, 2}
	}
}

func (f *cohortFirsts) outcome(name string) (cohortOutcome, error) {
	for _, o := range f.outcomes {
		if o.name == name {
			return o, nil
		}
	}
	return cohortOutcome{}, fmt.Errorf("no outcome %q is counted", name)
}

// place numbers how a denture can leave a window: by day, and on a day by kind.
func (u unit) place() int { return leavings*int(u.day) + u.kind }

// unitAt is what has a place.
func unitAt(place int) unit { return unit{int64(place / leavings), place % leavings} }

// leavings is how many kinds of leaving there are: the outcome, death, and the end of
// observation.
const leavings = 3

// places is how many places a window has: its days, day 0 and the day after it.
func (o cohortOutcome) places() int { return leavings * (o.Days + 2) }

// way numbers how two dentures can leave.
func (o cohortOutcome) way(a, b unit) int { return a.place()*o.places() + b.place() }

// ways is how many ways there are.
func (o cohortOutcome) ways() uint64 { return uint64(o.places() * o.places()) }

// unitsAt are how the two left whose way has a number.
func (o cohortOutcome) unitsAt(way int) [2]unit {
	return [2]unit{unitAt(way / o.places()), unitAt(way % o.places())}
}

// group counts an outcome in one group.
func (f *cohortFirsts) group(o cohortOutcome, dim, code int) *firstCounts {
	at := make([]int64, o.places())
	for _, l := range f.c.left[dim][code] {
		at[l.without(o.Days).place()] += l.n
	}
	for _, m := range f.counts[[3]int{dim, o.No, code}] {
		at[m.is.place()] += m.n
		at[m.was.place()] -= m.n
	}
	g := &firstCounts{}
	for day := range o.Days + 2 {
		of := at[leavings*day : leavings*(day+1)]
		n := of[0] + of[1] + of[2]
		if n == 0 {
			continue
		}
		g.rows = append(g.rows, stats.CauseCount{Time: float64(day), Events: of[:2:2], Censored: of[2]})
		g.n, g.events, g.days = g.n+n, g.events+of[0], g.days+n*int64(min(day, o.Days))
	}
	return g
}

// eachUnitPair hands on how many pairs of dentures of one patient, whose number is code,
// left in a way, in no order and piece by piece: pieces of one way add up.
func (f *cohortFirsts) eachUnitPair(o cohortOutcome, dim, code int, take func(a, b unit, n int64)) {
	for _, p := range f.pairs[dim][code] {
		take(p.a.without(o.Days), p.b.without(o.Days), p.n)
	}
	for _, m := range f.hits[[3]int{dim, o.No, code}] {
		take(m.is[0], m.is[1], m.n)
		take(m.was[0], m.was[1], -m.n)
	}
}

// unitPairs counts the pairs of dentures of one patient whose number is code, in the order
// of how they left; a and b name the groups that the two stand in.
func (f *cohortFirsts) unitPairs(o cohortOutcome, dim, code int, a, b string) []unitPair {
	ways, counted := f.pairsByWay(o, dim, code)
	out := make([]unitPair, 0, len(ways))
	for _, way := range ways {
		if n := counted[way]; n != 0 {
			u := o.unitsAt(way)
			out = append(out, unitPair{a, b, u[0], u[1], n})
		}
	}
	return out
}

// pairsByWay counts those pairs by the way that the two left, and gives the ways in order.
func (f *cohortFirsts) pairsByWay(o cohortOutcome, dim, code int) (ways []int, n map[int]int64) {
	n = map[int]int64{}
	f.eachUnitPair(o, dim, code, func(a, b unit, more int64) { n[o.way(a, b)] += more })
	return slices.Sorted(maps.Keys(n)), n
}

// estimates answers one outcome for every group; robust must have counted the patients.
func (f *cohortFirsts) estimates(ctx context.Context, one first) (map[groupKey]Estimate, []groupKey, error) {
	o, err := f.outcome(one.outcome)
	if err != nil {
		return nil, nil, err
	}
	asked := f.c.groups(func(d *cohortDimension) bool { return !d.noFirsts })
	return estimatesOf(ctx, asked, func(g cohortGroup) (Estimate, error) {
		return f.c.q.firstEstimate(one, g.key, f.group(o, g.dim, g.code), f.unitPairs(o, g.dim, g.code, g.key.code, g.key.code), f.c.squares[g.dim][g.code].patients)
	})
}

// curvesOf counts an outcome for the groups that curves are drawn of.
func (f *cohortFirsts) curvesOf(outcome string) (map[groupKey]*firstCounts, error) {
	o, err := f.outcome(outcome)
	if err != nil {
		return nil, err
	}
	out := map[groupKey]*firstCounts{}
	for _, g := range f.c.groups(func(d *cohortDimension) bool { return d.Curves }) {
		out[g.key] = f.group(o, g.dim, g.code)
	}
	return out, nil
}
