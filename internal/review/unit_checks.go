package review

import (
	"context"
	"database/sql"
	"math"

	"afterfit/internal/stats"
)

// oddPoints is by how much a unit's share must differ from everybody's, in percentage
// points, to be called odd; house value.
const oddPoints = 5

// checkSum is one row of unit_checks: pairs of counts and what they are out of.
type checkSum struct {
	k, n [5]int64
}

// unitChecks answers the first step of the order of thought for every unit.
func (q *asker) unitChecks(ctx context.Context) (map[groupKey]DataChecks, error) {
	var order []groupKey
	sums := map[groupKey]checkSum{}
	err := q.each(ctx, "unit_checks", func(rows *sql.Rows) error {
		var k groupKey
		var n int64
		var s checkSum
		if err := rows.Scan(&k.dimension, &k.code, &n, &s.k[0], &s.n[0], &s.k[1], &s.k[2], &s.k[3], &s.k[4], &s.n[4]); err != nil {
			return err
		}
		s.n[1], s.n[2], s.n[3] = n, n, n
		order = append(order, k)
		sums[k] = s
		return nil
	}, q.s.AdjustmentDays)
	if err != nil {
		return nil, err
	}
	all := sums[groupKey{"all", "all"}]
	out := map[groupKey]DataChecks{}
	for _, k := range order {
		var c DataChecks
		for i, x := range []struct {
			into  *Check
			worse int // the side that speaks against the data: 1 more, -1 less, 0 either
		}{{&c.Complete, -1}, {&c.Followed, 0}, {&c.Attended, 0}, {&c.Twice, 1}, {&c.OnFive, 1}} {
			if *x.into, err = q.check(sums[k].k[i], sums[k].n[i], all.k[i], all.n[i], x.worse); err != nil {
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
	if c.Own, err = q.share(k, n, "%", "unit_checks"); err != nil || allN == 0 {
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
