package review

import (
	"math"

	"afterfit/internal/stats"
)

// oddPoints is by how much a unit's share must differ from everybody's, in percentage
// points, to be called odd; house value.
const oddPoints = 5

// checkSum holds what the checks of one unit count, and what they are out of: key fields
// filled, dentures followed to the end of the window, with a planned visit by then, with
// two adjustments on one day, and verticals of occlusion on a multiple of 5 mm.
type checkSum struct {
	k, n [5]int64
}

// keyFields are the fields of the records that a denture can have filled: rest,
// occlusion, lip, clearance, seating.
const keyFields = 5

// checkSums counts every unit's dentures, and the verticals of its cases once each.
func (d *dentures) checkSums(of *codes, days int) []checkSum {
	out := make([]checkSum, len(of.levels)+1)
	planned := d.firsts[firstKind("planned_visit")]
	for i := range d.n {
		unit := of.at(i)
		s := &out[unit]
		s.n[0], s.k[0] = s.n[0]+keyFields, s.k[0]+int64(d.filled[i])
		for at, yes := range []bool{int(d.left[i]/2) >= days, int(planned[i]) <= days, d.adjustedTwice(i)} {
			if s.n[at+1]++; yes {
				s.k[at+1]++
			}
		}
		if d.onFive[i] == 2 || i > 0 && d.upper(i) && d.no[i-1] == d.no[i]-1 && of.at(i-1) == unit {
			continue // counted with the lower denture of the case
		}
		s.n[4], s.k[4] = s.n[4]+1, s.k[4]+int64(d.onFive[i])
	}
	return out
}

// adjustedTwice reports two adjustment visits of denture i on one day.
func (d *dentures) adjustedTwice(i int) bool {
	visits := d.events.visits.of(i)
	for k, e := range visits {
		for _, o := range visits[k+1:] {
			if o.day() == e.day() {
				return true
			}
		}
	}
	return false
}

// unitChecks answers the first step of the order of thought for every unit.
func (q *asker) unitChecks(d *mixData) (map[groupKey]DataChecks, error) {
	sums := map[groupKey]checkSum{}
	add := func(dimension string, of *codes) {
		for k, s := range d.d.checkSums(of, q.s.AdjustmentDays)[:len(of.levels)] {
			sums[groupKey{dimension, of.levels[k]}] = s
		}
	}
	add("all", d.d.dimension("all"))
	for k, dimension := range unitDimensions {
		add(dimension, d.units[k])
	}
	all := sums[groupKey{"all", "all"}]
	out := map[groupKey]DataChecks{}
	for k, s := range sums {
		var c DataChecks
		for i, x := range []struct {
			into  *Check
			worse int // the side that speaks against the data: 1 more, -1 less, 0 either
		}{{&c.Complete, -1}, {&c.Followed, 0}, {&c.Attended, 0}, {&c.Twice, 1}, {&c.OnFive, 1}} {
			var err error
			if *x.into, err = q.check(s.k[i], s.n[i], all.k[i], all.n[i], x.worse); err != nil {
				return nil, err
			}
		}
		out[k] = c
	}
	return out, nil
}

// check sets a share beside that of everybody else, which is all less the unit.
func (q *asker) check(k, n, allK, allN int64, worse int) (Check, error) {
	c := Check{All: Num(math.NaN())}
	var err error
	if c.Own, err = q.share(k, n, "%", "denture_words"); err != nil || allN == 0 {
		return c, err
	}
	c.All = Num(100 * float64(allK) / float64(allN))
	if n == 0 || allN == n {
		return c, nil
	}
	iv, err := stats.Newcombe(k, n, allK-k, allN-n, 0.99)
	if err != nil {
		return c, err
	}
	c.Odd = (iv.Low > 0 && worse >= 0 || iv.High < 0 && worse <= 0) && math.Abs(float64(c.Own.Value-c.All)) >= oddPoints
	return c, nil
}
