package review

import (
	"context"
	"fmt"

	"afterfit/internal/stats"
)

// cohort is all delivered dentures of a store, each with its code in every dimension that
// is asked about. What most dentures share (to have left without any event) is counted
// once for all outcomes.
type cohort struct {
	q        *asker
	d        *dentures
	dims     []cohortDimension
	outcomes []first               // the yes/no outcomes that are counted
	across   bool                  // pairs of dentures on different sides are counted
	apart    *apartFill            // pairs of dentures with different codes are counted
	left     []map[int][]leftCount // by dimension and code number
	// days are the events by dimension, code number and, in order, day.
	days []map[int][]dayEvents
	// squares are filled by robust, by dimension and code number.
	squares []map[int]cohortSquares
}

// cohortDimension is one way to group dentures.
type cohortDimension struct {
	name       string // as findings call it
	No         int
	of         *codes
	Curves     bool // curves over time are drawn of it
	onlyVisits bool // nothing but adjustment visits is asked of it
	noFirsts   bool // no yes/no outcome is asked of it
}

// code is the number of a denture's code, from 1; 0 for none.
func (d *cohortDimension) code(i int) int {
	if v := d.of.at(i); v < len(d.of.levels) {
		return v + 1
	}
	return 0
}

// codes are the dimension's codes in order: that of number n stands at n-1.
func (d *cohortDimension) codes() []string { return d.of.levels }

// cohortOutcome is a yes/no outcome with the last day of its window, and the day on which
// each denture had it.
type cohortOutcome struct {
	No, Days int
	name     string
	day      []uint16
}

// leftCount is how many dentures were followed to a day, and not beyond; died says how that ended.
type leftCount struct {
	day  int64
	died bool
	n    int64
}

// dayEvents are the events of a day.
type dayEvents struct {
	day                    int
	visits, minutes, spots int64
}

// cohortSquares are sums of squared pulls of a group's patients.
type cohortSquares struct {
	patients               int64
	visits, minutes, spots float64
}

// clinicianQuarter is the dimension of clinicians' own courses: codes are that of the
// clinician, a bar, and the quarter.
const clinicianQuarter = "clinician_quarter"

// newCohort groups all delivered dentures by the dimensions named.
func (q *asker) newCohort(ctx context.Context, names ...string) (*cohort, error) {
	d, err := q.dentures(ctx)
	if err != nil {
		return nil, err
	}
	c := &cohort{q: q, d: d, outcomes: q.firsts()}
	for i, n := range names {
		c.dims = append(c.dims, cohortDimension{name: n, No: i, of: d.dimension(n), Curves: n == "all" || n == "arch", onlyVisits: n == clinicianQuarter, noFirsts: n == clinicianQuarter})
	}
	return c, c.count(ctx, "outcomes by group")
}

// dimension is the column of codes that a dimension groups by.
func (d *dentures) dimension(name string) *codes {
	switch name {
	case "all":
		return &codes{[]string{"all"}, smallNumbers{narrow: make([]uint8, d.n)}}
	case "ridge_class":
		return d.codes[name].recorded()
	case "freeway", "clearance", "seating", "discomfort", "display":
		return d.codes["band_"+name]
	case clinicianQuarter:
		return d.codes["clinician"].and(d.codes["quarter"])
	}
	return d.codes[name]
}

// count counts who left when, and the events, in every dimension.
func (c *cohort) count(ctx context.Context, stage string) error {
	c.left, c.days = perDimension[[]leftCount](len(c.dims)), perDimension[[]dayEvents](len(c.dims))
	walks := c.walks()
	step := c.q.steps(stage, len(walks))
	return sideBySide(ctx, walks, func(dims []*cohortDimension) error {
		defer step()
		c.countTogether(dims)
		return nil
	})
}

// mostTogether is up to how many combinations of codes are counted in one walk: what is
// counted of them by day must lie near the processor.
const mostTogether = 32

// walks gathers dimensions of few codes, such as two habits, whose combinations are
// counted in one walk along the dentures in place of one for each.
func (c *cohort) walks() (walks [][]*cohortDimension) {
	size := mostTogether
	for i := range c.dims {
		d := &c.dims[i]
		if size *= len(d.codes()) + 1; size > mostTogether {
			walks, size = append(walks, nil), len(d.codes())+1
		}
		last := len(walks) - 1
		walks[last] = append(walks[last], d)
	}
	return walks
}

// eachDimension works on several dimensions at a time.
func (c *cohort) eachDimension(ctx context.Context, stage string, work func(d *cohortDimension)) error {
	step, dims := c.q.steps(stage, len(c.dims)), make([]*cohortDimension, len(c.dims))
	for i := range c.dims {
		dims[i] = &c.dims[i]
	}
	return sideBySide(ctx, dims, func(d *cohortDimension) error {
		defer step()
		work(d)
		return nil
	})
}

// lastDay is the end of the longest window.
func (q *asker) lastDay() int {
	last := q.s.AdjustmentDays
	for _, r := range q.recurrents() {
		last = max(last, r.days)
	}
	for _, f := range q.firsts() {
		last = max(last, f.days)
	}
	return last
}

// dayCount counts what happened on a day.
type dayCount struct {
	visits, spots uint32
	minutes       int64
}

// countTogether counts by the combined code of some dimensions, in which a denture without a
// code has the number behind the last, and sums each dimension from that.
func (c *cohort) countTogether(dims []*cohortDimension) {
	ends, days, size := 2*(c.q.lastDay()+2), c.q.pulled().days(), 1
	places := make([]int, len(dims)) // place values in the combined code
	for k, d := range dims {
		places[k] = size
		size *= len(d.codes()) + 1
	}
	left, events := make([]int32, size*ends), make([]dayCount, size*days)
	for i := range c.d.n {
		code := 0
		for k, d := range dims {
			code += places[k] * d.of.at(i)
		}
		left[code*ends+int(c.d.left[i])]++
		for _, e := range c.d.events.visits.of(i) {
			at := &events[code*days+e.day()]
			at.visits, at.minutes = at.visits+1, at.minutes+e.minutes()
		}
		for _, e := range c.d.events.spots.of(i) {
			events[code*days+e.day()].spots++
		}
	}
	for k, d := range dims {
		c.sumLeft(d, places[k], left, ends)
		c.sumDays(d, places[k], events, days)
	}
}

// sumLeft sums counts of who left by one dimension of a combined code, where it has the
// place value given.
func (c *cohort) sumLeft(d *cohortDimension, place int, left []int32, width int) {
	n, codes := make([]int32, (len(d.codes())+1)*width), len(d.codes())+1
	for at, more := range left {
		n[at/width/place%codes*width+at%width] += more
	}
	for at, n := range n[:len(d.codes())*width] {
		if code, left := at/width+1, at%width; n > 0 {
			c.left[d.No][code] = append(c.left[d.No][code], leftCount{int64(left / 2), left%2 == 1, int64(n)})
		}
	}
}

// sumDays does the same with events.
func (c *cohort) sumDays(d *cohortDimension, place int, events []dayCount, width int) {
	n, codes := make([]dayCount, (len(d.codes())+1)*width), len(d.codes())+1
	for at, more := range events {
		s := &n[at/width/place%codes*width+at%width]
		s.visits, s.spots, s.minutes = s.visits+more.visits, s.spots+more.spots, s.minutes+more.minutes
	}
	for at, n := range n[:len(d.codes())*width] {
		if code := at/width + 1; n != (dayCount{}) {
			c.days[d.No][code] = append(c.days[d.No][code], dayEvents{at % width, int64(n.visits), n.minutes, int64(n.spots)})
		}
	}
}

func perDimension[T any](n int) []map[int]T {
	out := make([]map[int]T, n)
	for i := range out {
		out[i] = map[int]T{}
	}
	return out
}

// cohortGroup is one group: the number of its dimension, that of its code, and their names.
type cohortGroup struct {
	dim, code int
	key       groupKey
}

// groups are those of the dimensions that are asked about, by dimension and in the order
// of the codes.
func (c *cohort) groups(asked func(d *cohortDimension) bool) []cohortGroup {
	var out []cohortGroup
	for i := range c.dims {
		d := &c.dims[i]
		if !asked(d) {
			continue
		}
		for i, code := range d.codes() {
			out = append(out, cohortGroup{d.No, i + 1, groupKey{d.name, code}})
		}
	}
	return out
}

// estimatesOf answers a question for every group, several at a time.
func estimatesOf(ctx context.Context, groups []cohortGroup, estimate func(g cohortGroup) (Estimate, error)) (map[groupKey]Estimate, []groupKey, error) {
	found := make([]Estimate, len(groups))
	err := onAllCores(ctx, len(groups), func(i int) (err error) {
		found[i], err = estimate(groups[i])
		return err
	})
	if err != nil {
		return nil, nil, err
	}
	out, order := make(map[groupKey]Estimate, len(groups)), make([]groupKey, len(groups))
	for i, g := range groups {
		out[g.key], order[i] = found[i], g.key
	}
	return out, order, nil
}

// of is the number of events of an outcome.
func (d dayEvents) of(outcome string) int64 {
	switch outcome {
	case SoreSpots:
		return d.spots
	case Minutes:
		return d.minutes
	default:
		return d.visits
	}
}

func (s cohortSquares) of(outcome string) robustSum {
	switch outcome {
	case SoreSpots:
		return robustSum{s.patients, s.spots}
	case Minutes:
		return robustSum{s.patients, s.minutes}
	default:
		return robustSum{s.patients, s.visits}
	}
}

// recurrent counts an outcome in one group: ends and events for every day that has either.
func (c *cohort) recurrent(r recurrent, dim, code int) *recurrentCounts {
	ends, events := make([]int64, r.days+1), make([]int64, r.days+1)
	for _, l := range c.left[dim][code] {
		ends[min(l.day, int64(r.days))] += l.n
	}
	for _, d := range c.days[dim][code] {
		if d.day <= r.days {
			events[d.day] += d.of(r.outcome)
		}
	}
	g := &recurrentCounts{}
	for day := range ends {
		if ends[day] == 0 && events[day] == 0 {
			continue
		}
		g.ends, g.events = append(g.ends, stats.DayCount{Day: day, N: ends[day]}), append(g.events, stats.DayCount{Day: day, N: events[day]})
		g.n, g.total, g.days = g.n+ends[day], g.total+events[day], g.days+ends[day]*int64(day)
	}
	return g
}

// recurrentEstimates answers one outcome for every group.
func (c *cohort) recurrentEstimates(ctx context.Context, r recurrent) (map[groupKey]Estimate, []groupKey, error) {
	asked := c.groups(func(d *cohortDimension) bool { return !d.onlyVisits || r.outcome == Adjustments })
	return estimatesOf(ctx, asked, func(g cohortGroup) (Estimate, error) {
		e, err := c.q.recurrentEstimate(r, c.recurrent(r, g.dim, g.code), c.squares[g.dim][g.code].of(r.outcome))
		if err != nil {
			return e, fmt.Errorf("%s, %s %s: %w", r.outcome, g.key.dimension, g.key.code, err)
		}
		return e, nil
	})
}
