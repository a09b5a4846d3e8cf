package review

import (
	"context"
	"fmt"
	"math/big"
	"slices"
	"strings"

	"afterfit/internal/stats"
)

// What a clinician's figure is set beside is the same figure of all colleagues together:
// of everybody less the clinician. It is worked out as that difference. To count each
// group of colleagues by itself would read every denture once for every clinician.

// Numbers of the dimensions in the cohort of ownAndOthers.
const (
	ofAll = iota
	ofClinicians
	ofQuarters
)

// ownAndOthers answers every outcome for each clinician and for each clinician's
// colleagues, and the visits of each clinician's quarters. The outcomes come in the order
// of the pack.
func (q *asker) ownAndOthers(ctx context.Context, m *material) error {
	c, err := q.newCohort(ctx, "all", "clinician", clinicianQuarter)
	if err != nil {
		return err
	}
	c.apart = &apartFill{ofClinicians, ofQuarters + 1, ofQuarters + 2}
	if err := c.robust(ctx); err != nil {
		return err
	}
	squares, err := c.colleagueSquares(ctx)
	if err != nil {
		return err
	}
	keep := func(outcome string, own map[groupKey]Estimate, others map[string]Estimate) {
		m.outcomes = append(m.outcomes, outcome)
		m.own[outcome], m.others[outcome] = map[string]Estimate{}, others
		for k, e := range own {
			if k.dimension == "clinician" {
				m.own[outcome][k.code] = e
			}
		}
	}
	for _, r := range q.recurrents() {
		own, order, err := c.recurrentEstimates(ctx, r)
		if err != nil {
			return err
		}
		others, err := c.recurrentOthers(ctx, r, squares)
		if err != nil {
			return err
		}
		keep(r.outcome, own, others)
		m.addTrend(own, order)
	}
	firsts, err := c.firsts(ctx)
	if err != nil {
		return err
	}
	for i, f := range q.firsts() {
		q.atStep("clinicians and colleagues", i, len(q.firsts()))
		own, _, err := firsts.estimates(ctx, f)
		if err != nil {
			return err
		}
		others, err := firsts.others(ctx, f, squares)
		if err != nil {
			return err
		}
		keep(f.outcome, own, others)
	}
	return nil
}

// addTrend takes the quarters' estimates, which only visits have.
func (m *material) addTrend(estimates map[groupKey]Estimate, order []groupKey) {
	if m.trend == nil {
		m.trend = map[string][]GroupValue{}
	}
	for _, k := range order {
		if k.dimension == clinicianQuarter {
			who, quarter, _ := strings.Cut(k.code, "|")
			m.trend[who] = append(m.trend[who], GroupValue{Code: quarter, Estimate: estimates[k]})
		}
	}
}

// recurrentOthers answers an outcome for each clinician's colleagues.
func (c *cohort) recurrentOthers(ctx context.Context, r recurrent, squares map[int]cohortSquares) (map[string]Estimate, error) {
	all := c.recurrent(r, ofAll, 1)
	return ofEach(ctx, c.dims[ofClinicians].codes(), func(i int, code string) (*Estimate, error) {
		g := all.less(c.recurrent(r, ofClinicians, i+1))
		if g.n == 0 {
			return nil, nil
		}
		e, err := c.q.recurrentEstimate(r, g, squares[i+1].of(r.outcome))
		if err != nil {
			return nil, fmt.Errorf("%s, colleagues of %s: %w", r.outcome, code, err)
		}
		return &e, nil
	})
}

// ofEach works side by side on something for each clinician; nil leaves one out.
func ofEach[T any](ctx context.Context, codes []string, work func(i int, code string) (*T, error)) (map[string]T, error) {
	found := make([]*T, len(codes))
	err := onAllCores(ctx, len(codes), func(i int) (err error) {
		found[i], err = work(i, codes[i])
		return err
	})
	out := map[string]T{}
	for i, v := range found {
		if v != nil {
			out[codes[i]] = *v
		}
	}
	return out, err
}

// colleagueSquares sums, for each clinician by code number, the squared pulls of patients
// on the colleagues' mean cumulative functions.
//
// A patient's pull on the colleagues of a clinician is that of the patient's marks (ends
// and events) that are not the clinician's. With a the pull of all marks of the patient
// and b that of the clinician's own, the squares of a - b are those of a, summed over
// everybody from products of marks, less 2ab - b squared. Where the patient has no other
// clinician that is b squared, and else 2b(a - b) more. All sums are of whole numbers,
// so that the result is the same as patient by patient.
func (c *cohort) colleagueSquares(ctx context.Context) (map[int]cohortSquares, error) {
	p, d := c.q.pulled(), &c.dims[ofClinicians]
	others := func(r recurrent, code int) *recurrentCounts {
		return c.recurrent(r, ofAll, 1).less(c.recurrent(r, ofClinicians, code))
	}
	pulls := c.pullsOf(d, others)
	var own, mixed []pullSquares
	var products *markProducts
	err := atOnce(ctx, func() error {
		products = c.markProducts()
		return nil
	}, func() error {
		own, mixed = c.squaresOf(d, pulls), c.mixedSquares(d, pulls)
		return nil
	})
	if err != nil {
		return nil, err
	}
	all, left := c.squares[ofAll][1].patients, make([]cohortSquares, len(d.codes()))
	err = onAllCores(ctx, len(left), func(i int) error {
		o, m := own[i+1].exact(), mixed[i+1].exact()
		of := exactSquares{patients: all - (o.patients - m.patients)}
		for k, r := range p {
			of.sums[k] = products.squares(k, others(r, i+1).dayPulls(p.days()-1))
			of.sums[k].Sub(of.sums[k], o.sums[k])
			of.sums[k].Sub(of.sums[k], m.sums[k])
		}
		left[i] = of.rounded()
		return nil
	})
	out := map[int]cohortSquares{}
	for i := range left {
		out[i+1] = left[i]
	}
	return out, err
}

// mixedSquares sums, by clinician, over patients of several clinicians, twice the product
// of the pull of the clinician's own marks and that of the others' marks.
func (c *cohort) mixedSquares(d *cohortDimension, p *codePulls) []pullSquares {
	out := make([]pullSquares, len(d.codes())+1)
	for k := range len(c.d.patients) - 1 {
		first, end := int(c.d.patients[k]), int(c.d.patients[k+1])
		var whose []int
		for i := first; i < end; i++ {
			if code := d.code(i); !slices.Contains(whose, code) {
				whose = append(whose, code)
			}
		}
		if len(whose) < 2 {
			continue
		}
		for _, code := range whose {
			var own, other patientPull
			for i := first; i < end; i++ {
				if d.code(i) == code {
					own.add(c.d, i, p, code)
				} else {
					other.add(c.d, i, p, code)
				}
			}
			out[code].patients++
			for k := range own.of {
				out[code].sums[k].add(2*own.of[k], other.of[k])
			}
		}
	}
	return out
}

// markProduct holds sums over patients of products of what lies on two days: events by
// events, events by ends, ends by events and ends by ends.
type markProduct [4]int64

// markProducts are such sums for every two days, the first no later than the second, by
// kind of event.
type markProducts struct {
	days [][2]int
	of   [3][]markProduct
}

// patientDay is what lies on one day of a patient: events by kind, and ends of follow-up
// by kind of event.
type patientDay struct {
	day        int
	event, end [3]int64
}

// markProducts sums over patients.
func (c *cohort) markProducts() *markProducts {
	p := c.q.pulled()
	width := p.days()
	sums := make([][3]markProduct, width*width)
	var days []patientDay
	on := func(day int) *patientDay {
		at := slices.IndexFunc(days, func(d patientDay) bool { return d.day == day })
		if at < 0 {
			at, days = len(days), append(days, patientDay{day: day})
		}
		return &days[at]
	}
	for k := range len(c.d.patients) - 1 {
		days = days[:0]
		for i := int(c.d.patients[k]); i < int(c.d.patients[k+1]); i++ {
			for _, e := range c.d.events.visits.of(i) {
				at := on(e.day())
				at.event[visitEvent]++
				at.event[minutesEvent] += e.minutes()
			}
			for _, e := range c.d.events.spots.of(i) {
				on(e.day()).event[spotEvent]++
			}
			for kind, r := range p {
				on(min(int(c.d.left[i]/2), r.days)).end[kind]++
			}
		}
		for _, a := range days {
			for _, b := range days {
				if a.day > b.day {
					continue
				}
				s := &sums[a.day*width+b.day]
				for k := range s {
					s[k][0] += a.event[k] * b.event[k]
					s[k][1] += a.event[k] * b.end[k]
					s[k][2] += a.end[k] * b.event[k]
					s[k][3] += a.end[k] * b.end[k]
				}
			}
		}
	}
	out := &markProducts{}
	for at, s := range sums {
		if s != [3]markProduct{} {
			out.days = append(out.days, [2]int{at / width, at % width})
			for k := range s {
				out.of[k] = append(out.of[k], s[k])
			}
		}
	}
	return out
}

// squares sums the squared pulls of everybody on a function with these pulls, in units of
// 1e-24.
func (p *markProducts) squares(outcome int, pull dayPulls) *big.Int {
	sum := new(big.Int)
	for i := 0; i < len(p.days); {
		day := p.days[i][0]
		// What stands beside an event and an end of this day; ends pull down.
		var event, end, lessEvent, lessEnd wideSum
		for ; i < len(p.days) && p.days[i][0] == day; i++ {
			other, n := p.days[i][1], p.of[outcome][i]
			times := int64(2)
			if other == day {
				times = 1
			}
			e, h := pull.event[other], pull.end[other]
			event.add(times*n[0], e)
			lessEvent.add(times*n[1], h)
			lessEnd.add(times*n[2], e)
			end.add(times*n[3], h)
		}
		sum.Add(sum, product(event, lessEvent, pull.event[day]))
		sum.Add(sum, product(end, lessEnd, pull.end[day]))
	}
	return sum
}

// product is (plus - minus) times by.
func product(plus, minus wideSum, by int64) *big.Int {
	v := plus.exact()
	return v.Sub(v, minus.exact()).Mul(v, big.NewInt(by))
}

// less is everybody without one group.
func (g *recurrentCounts) less(o *recurrentCounts) *recurrentCounts {
	out := &recurrentCounts{n: g.n - o.n, total: g.total - o.total, days: g.days - o.days}
	at := 0
	for i, e := range g.ends {
		v := g.events[i]
		if at < len(o.ends) && o.ends[at].Day == e.Day {
			e.N, v.N = e.N-o.ends[at].N, v.N-o.events[at].N
			at++
		}
		if e.N > 0 || v.N > 0 {
			out.ends, out.events = append(out.ends, e), append(out.events, v)
		}
	}
	return out
}

// others answers a yes/no outcome for each clinician's colleagues.
func (f *cohortFirsts) others(ctx context.Context, one first, squares map[int]cohortSquares) (map[string]Estimate, error) {
	o, err := f.outcome(one.outcome)
	if err != nil {
		return nil, err
	}
	all, pairs := f.group(o, ofAll, 1), f.pairSums(o, ofAll, 1)
	return ofEach(ctx, f.c.dims[ofClinicians].codes(), func(i int, code string) (*Estimate, error) {
		g := all.less(f.group(o, ofClinicians, i+1))
		if g.n == 0 {
			return nil, nil
		}
		patients := squares[i+1].patients
		e, err := f.c.q.firstEstimateBy(one, groupKey{"colleagues", code}, g, patients, func(w weighted) (float64, error) {
			left := slices.Clone(pairs.n)
			// The pairs that go when the clinician's dentures go: both are the clinician's, or one.
			for _, dim := range []int{ofClinicians, f.c.apart.First, f.c.apart.Second} {
				f.eachUnitPair(o, dim, i+1, func(a, b unit, n int64) { left[pairs.at[o.way(a, b)]] -= n })
			}
			return robustVariance(pairs.products(left, w), patients)
		})
		return &e, err
	})
}

// less is everybody without one group. Days on which nobody is left fall away.
func (g *firstCounts) less(o *firstCounts) *firstCounts {
	out := &firstCounts{n: g.n - o.n, events: g.events - o.events, days: g.days - o.days}
	at := 0
	for _, r := range g.rows {
		x := stats.CauseCount{Time: r.Time, Events: []int64{r.Events[0], r.Events[1]}, Censored: r.Censored}
		if at < len(o.rows) && o.rows[at].Time == r.Time {
			x.Events[0], x.Events[1], x.Censored = x.Events[0]-o.rows[at].Events[0], x.Events[1]-o.rows[at].Events[1], x.Censored-o.rows[at].Censored
			at++
		}
		if x.Events[0]+x.Events[1]+x.Censored > 0 {
			out.rows = append(out.rows, x)
		}
	}
	return out
}

// pairSums are everybody's pairs in the order of how they left, from which those of one
// clinician can be taken: the ways to leave, where each stands, and how many there are.
type pairSums struct {
	of   cohortOutcome
	ways []int
	at   map[int]int32
	n    []int64
}

func (f *cohortFirsts) pairSums(o cohortOutcome, dim, code int) *pairSums {
	ways, n := f.pairsByWay(o, dim, code)
	s := &pairSums{of: o, ways: ways, at: map[int]int32{}, n: make([]int64, len(ways))}
	for i, way := range ways {
		s.at[way], s.n[i] = int32(i), n[way] //nolint:gosec // at most the square of some thousand places
	}
	return s
}

// products sums what clusterVariance does, in its order: the squares of dentures by
// themselves, then the products of so many pairs.
func (s *pairSums) products(n []int64, w weighted) float64 {
	width := s.of.places()
	pulls := make([]float64, width) // how one left says what it pulls
	for at := range pulls {
		pulls[at] = w.pullOf(unitAt(at))
	}
	sum := w.ownSquares()
	for i, way := range s.ways {
		if n[i] > 0 {
			sum += 2 * float64(n[i]) * pulls[way/width] * pulls[way%width]
		}
	}
	return sum
}
