package review

import (
	"context"
	"database/sql"
	"math"
	"math/big"
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

// squaresFill is what statements about pulls are filled with: the dimension's number, how
// many days each code has in the lists, and the last days of the windows.
type squaresFill struct{ No, Days, Visit, Sore int }

// pulled are the outcomes that recur, in the order in which statements have them: visits,
// minutes (on the days of visits) and spots.
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

func (p pulled) fill(dim int) squaresFill { return squaresFill{dim, p.days(), p[0].days, p[2].days} }

// exactSquares are sums of squared pulls in units of 1e-24, in the order of pulled.
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

// pullLists are the lists that statements about the pulls on a dimension's groups take;
// of says whose counts the pulls of a code come from. Without minutes and spots their
// lists are empty but for a nought.
func (c *cohort) pullLists(d cohortDimension, of func(r recurrent, code int) *recurrentCounts) []any {
	p := c.q.pulled()
	days := p.days()
	lists := make([][]int64, 5)
	for i := range lists {
		lists[i] = make([]int64, days, days*(len(d.codes)+1))
		if d.onlyVisits && i > 1 {
			lists[i] = []int64{0}
		}
	}
	for i := range d.codes {
		v := of(p[0], i+1).dayPulls(days - 1)
		lists[0], lists[1] = append(lists[0], v.event...), append(lists[1], v.end...)
		if !d.onlyVisits {
			m, s := of(p[1], i+1).dayPulls(days-1), of(p[2], i+1).dayPulls(days-1)
			lists[2], lists[3], lists[4] = append(lists[2], m.end...), append(lists[3], s.event...), append(lists[4], s.end...)
		}
	}
	args := make([]any, len(lists))
	for i, l := range lists {
		args[i] = joinInts(l)
	}
	return args
}

// readSquares reads sums of pulls by code number from the statement named.
func (c *cohort) readSquares(ctx context.Context, name string, dim int, lists []any) (map[int]exactSquares, error) {
	out := map[int]exactSquares{}
	err := c.q.eachFilled(ctx, name, c.q.pulled().fill(dim), func(rows *sql.Rows) error {
		var code int
		var s exactSquares
		err := rows.Scan(&code, &s.patients, &s.sums[0], &s.sums[1], &s.sums[2])
		out[code] = s
		return err
	}, lists...)
	return out, err
}

// robust sums the squared pulls of the patients of every group.
func (c *cohort) robust(ctx context.Context) error {
	c.squares = perDimension[cohortSquares](len(c.dims))
	for _, d := range c.dims {
		c.q.atStep("outcomes by group", d.No, len(c.dims))
		lists := c.pullLists(d, func(r recurrent, code int) *recurrentCounts { return c.recurrent(r, d.No, code) })
		squares, err := c.readSquares(ctx, "cohort_squares", d.No, lists)
		if err != nil {
			return err
		}
		for code, s := range squares {
			c.squares[d.No][code] = s.rounded()
		}
	}
	return nil
}
