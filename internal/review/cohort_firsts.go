package review

import (
	"cmp"
	"context"
	"database/sql"
	"fmt"
	"slices"

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

// apartFill asks for pairs of dentures that stand apart in dimension Of: their two codes
// go into columns of the numbers First and Second.
type apartFill struct{ Of, First, Second int }

// firstsFill fills the statements about dentures with a yes/no outcome, without dimensions
// of which only visits are asked; the statement that finds pairs; and those about pairs,
// whose codes, where they stand apart, are grouped by like dimensions.
func (c *cohort) firstsFill() (dentures, find, pairs cohortFill) {
	dentures = c.fill()
	dentures.Dimensions = nil
	for _, d := range c.dims {
		if !d.onlyVisits {
			dentures.Dimensions = append(dentures.Dimensions, d)
		}
	}
	find, pairs = dentures, dentures
	if find.Apart = c.apart; c.apart != nil {
		pairs.Dimensions = slices.Concat(dentures.Dimensions, []cohortDimension{{No: c.apart.First}, {No: c.apart.Second}})
	}
	return dentures, find, pairs
}

// firsts counts the yes/no outcomes.
func (c *cohort) firsts(ctx context.Context) (*cohortFirsts, error) {
	fill, found, pairs := c.firstsFill()
	f := &cohortFirsts{c: c, outcomes: fill.Outcomes, counts: map[[3]int][]moved[unit]{}, pairs: perDimension[[]leftPair](len(c.dims) + 2), hits: map[[3]int][]moved[[2]unit]{}}
	if err := c.q.execFilled(ctx, "cohort_firsts", fill); err != nil {
		return nil, err
	}
	if err := c.q.execFilled(ctx, "first_cross_pairs", found); err != nil {
		return nil, err
	}
	if err := c.q.execFilled(ctx, "cohort_hits", pairs); err != nil {
		return nil, err
	}
	err := c.q.eachFilled(ctx, "first_counts", fill, func(rows *sql.Rows) error {
		var k [3]int
		var is, was, n int64
		err := rows.Scan(&k[0], &k[1], &k[2], &is, &was, &n)
		f.counts[k] = append(f.counts[k], moved[unit]{unitOf(is), unitOf(was), n})
		return err
	})
	if err != nil {
		return nil, err
	}
	err = c.q.eachFilled(ctx, "cohort_pairs_left", pairs, func(rows *sql.Rows) error {
		var dim, code int
		var a, b, n int64
		err := rows.Scan(&dim, &code, &a, &b, &n)
		f.pairs[dim][code] = append(f.pairs[dim][code], leftPair{leftCount{day: a / 2, died: a%2 == 1}, leftCount{day: b / 2, died: b%2 == 1}, n})
		return err
	})
	if err != nil {
		return nil, err
	}
	return f, c.q.eachFilled(ctx, "cohort_pairs_hit", pairs, func(rows *sql.Rows) error {
		var k [3]int
		var isA, isB, wasA, wasB, n int64
		err := rows.Scan(&k[0], &k[1], &k[2], &isA, &isB, &wasA, &wasB, &n)
		f.hits[k] = append(f.hits[k], moved[[2]unit]{[2]unit{unitOf(isA), unitOf(isB)}, [2]unit{unitOf(wasA), unitOf(wasB)}, n})
		return err
	})
}

// unitOf reads a way of leaving as the statements write it.
func unitOf(written int64) unit { return unit{written / 3, int(written % 3)} }

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
		if o.Name.String() == name {
			return o, nil
		}
	}
	return cohortOutcome{}, fmt.Errorf("no outcome %q is counted", name)
}

// group counts an outcome in one group.
func (f *cohortFirsts) group(o cohortOutcome, dim, code int) *firstCounts {
	at := map[unit]int64{}
	for _, l := range f.c.left[dim][code] {
		at[l.without(o.Days)] += l.n
	}
	for _, m := range f.counts[[3]int{dim, o.No, code}] {
		at[m.is] += m.n
		at[m.was] -= m.n
	}
	days := map[int64]*stats.CauseCount{}
	g := &firstCounts{}
	for u, n := range at {
		if n == 0 {
			continue
		}
		r := days[u.day]
		if r == nil {
			r = &stats.CauseCount{Time: float64(u.day), Events: []int64{0, 0}}
			days[u.day] = r
		}
		if u.kind == 2 {
			r.Censored += n
		} else {
			r.Events[u.kind] += n
		}
		g.n, g.days = g.n+n, g.days+n*min(u.day, int64(o.Days))
		if u.kind == 0 {
			g.events += n
		}
	}
	for _, r := range days {
		g.rows = append(g.rows, *r)
	}
	slices.SortFunc(g.rows, func(a, b stats.CauseCount) int { return cmp.Compare(a.Time, b.Time) })
	return g
}

// unitPairs counts the pairs of dentures of one patient whose number is code, in the order
// of how they left; a and b name the groups that the two stand in.
func (f *cohortFirsts) unitPairs(o cohortOutcome, dim, code int, a, b string) []unitPair {
	at := map[[2]unit]int64{}
	for _, p := range f.pairs[dim][code] {
		at[[2]unit{p.a.without(o.Days), p.b.without(o.Days)}] += p.n
	}
	for _, m := range f.hits[[3]int{dim, o.No, code}] {
		at[m.is] += m.n
		at[m.was] -= m.n
	}
	out := make([]unitPair, 0, len(at))
	for u, n := range at {
		if n != 0 {
			out = append(out, unitPair{a, b, u[0], u[1], n})
		}
	}
	slices.SortFunc(out, func(p, q unitPair) int { return cmp.Or(unitOrder(p.a, q.a), unitOrder(p.b, q.b)) })
	return out
}

func unitOrder(a, b unit) int { return cmp.Or(cmp.Compare(a.day, b.day), cmp.Compare(a.kind, b.kind)) }

// estimates answers one outcome for every group; robust must have counted the patients.
func (f *cohortFirsts) estimates(one first) (map[groupKey]Estimate, []groupKey, error) {
	o, err := f.outcome(one.outcome)
	if err != nil {
		return nil, nil, err
	}
	out, order := map[groupKey]Estimate{}, []groupKey{}
	err = f.c.eachGroup(func(dim, code int, k groupKey) error {
		if f.c.dims[dim].onlyVisits {
			return nil
		}
		e, err := f.c.q.firstEstimate(one, k, f.group(o, dim, code), f.unitPairs(o, dim, code, k.code, k.code), f.c.squares[dim][code].patients)
		out[k], order = e, append(order, k)
		return err
	})
	return out, order, err
}

// curvesOf counts an outcome for the groups that curves are drawn of.
func (f *cohortFirsts) curvesOf(outcome string) (map[groupKey]*firstCounts, error) {
	o, err := f.outcome(outcome)
	if err != nil {
		return nil, err
	}
	out := map[groupKey]*firstCounts{}
	err = f.c.eachGroup(func(dim, code int, k groupKey) error {
		if f.c.dims[dim].Curves {
			out[k] = f.group(o, dim, code)
		}
		return nil
	})
	return out, err
}
