package stats

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
)

// Spans over many event times and two strata, with hazards that lie up to e^60 apart:
// the sums for each event time, and between each row's two ends, must be those of a
// plain loop, to rounding and not merely to the size of the largest.
func TestLateEntrySumsAgainstPlainLoops(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 26))
	for _, days := range []int{1, 2, 3, 8, 37, 130} {
		p := CoxPatterns{Names: []string{"x", "z"}}
		var rows []CoxRow
		for j := range 12 {
			p.X = append(p.X, rng.NormFloat64(), rng.NormFloat64())
			p.Offset, p.Stratum = append(p.Offset, 60*rng.Float64()-60), append(p.Stratum, j%2)
		}
		for i := range 60 * days {
			entry := rng.IntN(days) - 1
			rows = append(rows, CoxRow{Pattern: rng.IntN(12), Entry: float64(entry), Time: float64(entry + 1 + rng.IntN(days)), Event: i%2 == 0, Count: float64(rng.IntN(3))})
		}
		x, err := indexCox(p, rows, CoxOptions{LeftTruncated: true})
		require.NoError(t, err)
		require.Equal(t, days > 1, x.late != nil)
		r := newCoxRisk(x, p.X, 2)
		r.evaluate(x, p.X, p.Offset, []float64{0.3, -0.2})
		for at := range x.times {
			s0, s1 := 0.0, 0.0
			for i, row := range rows {
				if x.lo[i] <= int32(at) && int32(at) < x.hi[i] {
					s0 += row.Count * r.hazard[row.Pattern]
					s1 += row.Count * r.hazard[row.Pattern] * p.X[2*row.Pattern+1]
				}
			}
			require.InEpsilon(t, 1/s0, r.inverse[at], 1e-12)
			require.InDelta(t, s1/s0, r.s1[2*at+1], 1e-12)
		}
		step := func(t int) float64 { return math.Exp(float64(t*7919%61) - 30) }
		sums := x.cumulate(step)
		for i := range rows {
			want := 0.0
			for k := x.lo[i]; k < x.hi[i]; k++ {
				want += step(int(k))
			}
			require.True(t, relative(x.between(sums, x.lo[i], x.hi[i]), want, 1e-13), "row %d of %d days", i, days)
		}
	}
}
