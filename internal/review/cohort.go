package review

import (
	"context"
	"database/sql"
	"fmt"

	"afterfit/internal/stats"
	"afterfit/queries"
)

// cohort is all delivered dentures of a store, each with the number of its code in every
// dimension that is asked about. Dentures stand in it once, whatever the number of
// dimensions: what is counted by each dimension is counted from narrow rows of small
// numbers, and what most dentures share (to have left without any event) once for all
// outcomes.
type cohort struct {
	q        *asker
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
	Column     queries.Name // in cohort_wide
	Type       queries.Name // of its code numbers
	Curves     bool         // curves over time are drawn of it
	codes      []string     // that of number n stands at n-1
	onlyVisits bool         // nothing but adjustment visits is asked of it
}

// cohortFill is what the cohort's statements are filled with.
type cohortFill struct {
	Dimensions []cohortDimension
	Outcomes   []cohortOutcome
	Last       int // day from which leaving makes no difference to any outcome
	Compared   int // outcomes from this number on are drawn as curves only
	Across     bool
	Apart      *apartFill
}

// cohortOutcome is a yes/no outcome with the last day of its window.
type cohortOutcome struct {
	No, Days int
	Name     queries.Name
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

// cohortColumns names the column of cohort_wide where it is not the dimension's own name.
var cohortColumns = map[string]string{"all": "everybody"}

// clinicianQuarter is the dimension of clinicians' own courses: codes are that of the
// clinician, a bar, and the quarter.
const clinicianQuarter = "clinician_quarter"

// newCohort groups all delivered dentures by the dimensions named.
func (q *asker) newCohort(ctx context.Context, names ...string) (*cohort, error) {
	c := &cohort{q: q, outcomes: q.firsts()}
	for i, n := range names {
		column := n
		if other, ok := cohortColumns[n]; ok {
			column = other
		}
		c.dims = append(c.dims, cohortDimension{name: n, No: i, Column: queries.NameOf(column), Curves: n == "all" || n == "arch", onlyVisits: n == clinicianQuarter})
	}
	if err := q.exec(ctx, "cohort_wide"); err != nil {
		return nil, err
	}
	if err := q.execFilled(ctx, "cohort_codes", c.fill()); err != nil {
		return nil, err
	}
	if err := c.readCodes(ctx); err != nil {
		return nil, err
	}
	return c, c.build(ctx, "cohort")
}

// build makes the cohort by the statement named and counts who left when, and the events.
func (c *cohort) build(ctx context.Context, statement string) error {
	for _, step := range []string{statement, "cohort_events"} {
		if err := c.q.execFilled(ctx, step, c.fill()); err != nil {
			return err
		}
	}
	if err := c.readLeft(ctx); err != nil {
		return err
	}
	return c.readDays(ctx)
}

func (c *cohort) fill() cohortFill {
	f := cohortFill{Dimensions: c.dims, Last: c.q.lastDay() + 1, Across: c.across}
	for i, o := range c.outcomes {
		f.Outcomes = append(f.Outcomes, cohortOutcome{i, o.days, queries.NameOf(o.outcome)})
	}
	f.Compared = len(f.Outcomes)
	f.Outcomes = append(f.Outcomes, cohortOutcome{f.Compared, c.q.s.AdjustmentDays, queries.NameOf(firstAdjustment)})
	return f
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

func (c *cohort) readCodes(ctx context.Context) error {
	err := c.q.each(ctx, "cohort_names", func(rows *sql.Rows) error {
		var dim int
		var code string
		err := rows.Scan(&dim, &code)
		c.dims[dim].codes = append(c.dims[dim].codes, code)
		return err
	})
	for i := range c.dims {
		c.dims[i].Type = queries.NameOf("usmallint")
		if len(c.dims[i].codes) > 65535 {
			c.dims[i].Type = queries.NameOf("integer")
		}
	}
	return err
}

func (c *cohort) readLeft(ctx context.Context) error {
	c.left = perDimension[[]leftCount](len(c.dims))
	return c.q.eachFilled(ctx, "cohort_left", c.fill(), func(rows *sql.Rows) error {
		var dim, code int
		var left, n int64
		err := rows.Scan(&dim, &code, &left, &n)
		c.left[dim][code] = append(c.left[dim][code], leftCount{left / 2, left%2 == 1, n})
		return err
	})
}

func (c *cohort) readDays(ctx context.Context) error {
	c.days = perDimension[[]dayEvents](len(c.dims))
	return c.q.eachFilled(ctx, "recurrent_days", c.fill(), func(rows *sql.Rows) error {
		var dim, code int
		var d dayEvents
		err := rows.Scan(&dim, &code, &d.day, &d.visits, &d.minutes, &d.spots)
		c.days[dim][code] = append(c.days[dim][code], d)
		return err
	})
}

func perDimension[T any](n int) []map[int]T {
	out := make([]map[int]T, n)
	for i := range out {
		out[i] = map[int]T{}
	}
	return out
}

// eachGroup calls do for every group, by dimension and in the order of the codes.
func (c *cohort) eachGroup(do func(dim, code int, k groupKey) error) error {
	for _, d := range c.dims {
		for i, code := range d.codes {
			if err := do(d.No, i+1, groupKey{d.name, code}); err != nil {
				return err
			}
		}
	}
	return nil
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
func (c *cohort) recurrentEstimates(r recurrent) (map[groupKey]Estimate, []groupKey, error) {
	out, order := map[groupKey]Estimate{}, []groupKey{}
	err := c.eachGroup(func(dim, code int, k groupKey) error {
		if c.dims[dim].onlyVisits && r.outcome != Adjustments {
			return nil
		}
		e, err := c.q.recurrentEstimate(r, c.recurrent(r, dim, code), c.squares[dim][code].of(r.outcome))
		if err != nil {
			return fmt.Errorf("%s, %s %s: %w", r.outcome, k.dimension, k.code, err)
		}
		out[k], order = e, append(order, k)
		return nil
	})
	return out, order, err
}
