package review

import (
	"context"
	"math"
	"math/big"
	"slices"
)

// dayPulls are what one event and one end of follow-up add to a patient's pull on a group's
// mean cumulative function, by day, in units of 1e-12: A_c of Lawless & Nadeau 1995
// with whole numbers, so that sums over patients are exact whatever their order. An end
// pulls by -end[day]. Days after the last end of follow-up have no pull of an event.
type dayPulls struct{ event, end []int64 }

func (g *recurrentCounts) dayPulls(days int) dayPulls {
	p := dayPulls{make([]int64, days+1), make([]int64, days+1)}
	ends, events := make([]int64, days+1), make([]int64, days+1)
	for i, e := range g.ends {
		ends[e.Day] += e.N
		events[e.Day] += g.events[i].N
	}
	risk := g.n
	var hazard int64
	for d := range p.event {
		if risk > 0 {
			r := float64(risk)
			p.event[d] = int64(math.Round(1e12 / r))
			hazard += int64(math.Round(1e12 * float64(events[d]) / (r * r)))
		}
		p.end[d] = hazard
		risk -= ends[d]
	}
	return p
}

// pulled are the outcomes that recur by kind of event: visits, minutes (on the days of
// visits) and spots.
type pulled [3]recurrent

func (q *asker) pulled() (p pulled) {
	for _, r := range q.recurrents() {
		switch r.outcome {
		case Adjustments:
			p[0] = r
		case Minutes:
			p[1] = r
		default:
			p[2] = r
		}
	}
	return p
}

// days is how many days the longest window has, day 0 included.
func (p pulled) days() int { return max(p[0].days, p[2].days) + 1 }

// exactSquares are pullSquares as whole numbers of any size.
type exactSquares struct {
	patients int64
	sums     [3]*big.Int
}

// rounded are the sums as numbers.
func (s exactSquares) rounded() cohortSquares {
	unit := func(i int) float64 {
		v, _ := new(big.Float).SetInt(s.sums[i]).Float64()
		return v / 1e24
	}
	return cohortSquares{s.patients, unit(0), unit(1), unit(2)}
}

// codePulls are the pulls on the functions of a dimension's groups: those of an event and
// of an end of follow-up by kind of event, code from 0 and day.
type codePulls struct {
	width, kinds int // days; kinds of events that are asked of the dimension
	event, end   [3][]int64
	last         [3]uint16 // day of the end of each window
}

// pullsOf are the pulls on a dimension's groups; of says whose counts the pulls of a code
// come from.
func (c *cohort) pullsOf(d *cohortDimension, of func(r recurrent, code int) *recurrentCounts) *codePulls {
	p := c.q.pulled()
	out := &codePulls{width: p.days(), kinds: len(p)}
	if d.onlyVisits {
		out.kinds = 1
	}
	for k := range out.kinds {
		out.last[k] = uint16(p[k].days)
		out.event[k], out.end[k] = make([]int64, out.width, out.width*(len(d.codes())+1)), make([]int64, out.width, out.width*(len(d.codes())+1))
		for i := range d.codes() {
			pulls := of(p[k], i+1).dayPulls(out.width - 1)
			out.event[k], out.end[k] = append(out.event[k], pulls.event...), append(out.end[k], pulls.end...)
		}
	}
	return out
}

// patientPull is what a patient's dentures of one code pull.
type patientPull struct {
	code int
	of   [3]int64
}

// add adds what denture i brings, by the pulls of the code.
func (s *patientPull) add(d *dentures, i int, p *codePulls, code int) {
	at := code * p.width
	for _, e := range d.events.visits.of(i) {
		s.of[visitEvent] += p.event[visitEvent][at+e.day()]
		if p.kinds > minutesEvent {
			s.of[minutesEvent] += e.minutes() * p.event[minutesEvent][at+e.day()]
		}
	}
	if p.kinds > spotEvent {
		for _, e := range d.events.spots.of(i) {
			s.of[spotEvent] += p.event[spotEvent][at+e.day()]
		}
	}
	for k := range p.kinds {
		s.of[k] -= p.end[k][at+int(min(d.left[i]/2, p.last[k]))]
	}
}

// pullSquares are sums of squared pulls by kind of event, in units of 1e-24.
type pullSquares struct {
	patients int64
	sums     [3]wideSum
}

func (s *pullSquares) add(p *patientPull) {
	s.patients++
	for k := range s.sums {
		s.sums[k].add(p.of[k], p.of[k])
	}
}

// exact are the squares as whole numbers of any size.
func (s *pullSquares) exact() exactSquares {
	out := exactSquares{patients: s.patients}
	for k := range s.sums {
		out.sums[k] = s.sums[k].exact()
	}
	return out
}

// squaresOf sums the squared pulls of the patients of every code of a dimension.
func (c *cohort) squaresOf(d *cohortDimension, p *codePulls) []pullSquares {
	out := make([]pullSquares, len(d.codes())+1)
	var own []patientPull
	for k := range len(c.d.patients) - 1 {
		own = own[:0]
		for i := int(c.d.patients[k]); i < int(c.d.patients[k+1]); i++ {
			code := d.code(i)
			if code == 0 {
				continue
			}
			at := slices.IndexFunc(own, func(p patientPull) bool { return p.code == code })
			if at < 0 {
				at, own = len(own), append(own, patientPull{code: code})
			}
			own[at].add(c.d, i, p, code)
		}
		for i := range own {
			out[own[i].code].add(&own[i])
		}
	}
	return out
}

// robust sums the squared pulls of the patients of every group.
func (c *cohort) robust(ctx context.Context) error {
	c.squares = perDimension[cohortSquares](len(c.dims))
	return c.eachDimension(ctx, "limits by group", func(d *cohortDimension) {
		pulls := c.pullsOf(d, func(r recurrent, code int) *recurrentCounts { return c.recurrent(r, d.No, code) })
		for code, s := range c.squaresOf(d, pulls) {
			if s.patients > 0 {
				c.squares[d.No][code] = s.exact().rounded()
			}
		}
	})
}
