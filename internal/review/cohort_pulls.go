package review

import (
	"context"
	"database/sql"
	"math"
)

// dayPulls are what one event and one end of follow-up add to a patient's pull on a group's
// mean cumulative function, by day, in units of 1e-12: A_c of Lawless & Nadeau 1995
// with whole numbers, so that sums over patients are exact whatever their order. An end
// pulls by -end[day]. Days after the last end of follow-up have none.
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

// squaresFill is what cohort_squares is filled with: the dimension's number, how many
// days each code has in the lists, and the last days of the windows.
type squaresFill struct{ No, Days, Visit, Sore int }

// robust sums the squared pulls of the patients of every group.
func (c *cohort) robust(ctx context.Context) error {
	c.squares = perDimension[cohortSquares](len(c.dims))
	var visits, minutes, spots recurrent
	days := 0
	for _, r := range c.q.recurrents() {
		switch r.outcome {
		case Adjustments:
			visits = r
		case Minutes:
			minutes = r
		default:
			spots = r
		}
		days = max(days, r.days+1)
	}
	for _, d := range c.dims {
		lists := make([][]int64, 5)
		for i := range lists {
			lists[i] = make([]int64, days, days*(len(d.codes)+1))
		}
		for i := range d.codes {
			v, m, s := c.recurrent(visits, d.No, i+1).dayPulls(days-1), c.recurrent(minutes, d.No, i+1).dayPulls(days-1), c.recurrent(spots, d.No, i+1).dayPulls(days-1)
			for k, one := range [][]int64{v.event, v.end, m.end, s.event, s.end} {
				lists[k] = append(lists[k], one...)
			}
		}
		args := make([]any, len(lists))
		for i, l := range lists {
			args[i] = joinInts(l)
		}
		err := c.q.eachFilled(ctx, "cohort_squares", squaresFill{d.No, days, visits.days, spots.days}, func(rows *sql.Rows) error {
			var code int
			var s cohortSquares
			err := rows.Scan(&code, &s.patients, &s.visits, &s.minutes, &s.spots)
			c.squares[d.No][code] = s
			return err
		}, args...)
		if err != nil {
			return err
		}
	}
	return nil
}
