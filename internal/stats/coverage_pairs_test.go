//go:build coverage

package stats

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
)

// masses lists the counts that a law can give, with their chances; those below 1e-9
// are left out.
func masses(last int64, tails func(int64) (float64, float64)) (counts []int64, chance []float64) {
	before := 0.0
	for k := range last + 1 {
		low, _ := tails(k)
		if mass := low - before; mass > 1e-9 {
			counts, chance = append(counts, k), append(chance, mass)
		}
		before = low
	}
	return counts, chance
}

// Exact sums over two binomial laws. Where fewer than 5 events, or non-events, are
// expected in a group Newcombe's limits cover more than they say, and Newcombe's
// caution speaks.
func TestCoverageOfNewcombe(t *testing.T) {
	for _, c := range []struct {
		n1, n2 int64
		p1, p2 float64
	}{
		{50, 50, 0.02, 0.02}, {50, 50, 0.1, 0.2}, {50, 50, 0.3, 0.5}, {200, 60, 0.02, 0.05}, {200, 200, 0.02, 0.02}, {200, 200, 0.05, 0.1},
		{400, 400, 0.02, 0.04}, {1000, 300, 0.02, 0.02}, {1000, 1000, 0.02, 0.035}, {1000, 40, 0.2, 0.3}, {30, 30, 0.5, 0.9},
	} {
		k1, m1 := masses(c.n1, func(k int64) (float64, float64) { return binomialTails(k, c.n1, c.p1) })
		k2, m2 := masses(c.n2, func(k int64) (float64, float64) { return binomialTails(k, c.n2, c.p2) })
		share := 0.0
		for i, a := range k1 {
			for j, b := range k2 {
				iv, err := Newcombe(a, c.n1, b, c.n2, 0.95)
				require.NoError(t, err)
				if d := c.p1 - c.p2; iv.Low <= d && d <= iv.High {
					share += m1[i] * m2[j]
				}
			}
		}
		t.Logf("%+v: %.4f", c, share)
	}
}

func TestCoverageOfRateRatios(t *testing.T) {
	for _, c := range [][2]float64{{1, 1}, {2, 4}, {5, 5}, {5, 20}, {10, 10}, {20, 20}, {20, 60}, {60, 60}} {
		k1, m1 := masses(400, func(k int64) (float64, float64) { return poissonTails(k, c[0]) })
		k2, m2 := masses(400, func(k int64) (float64, float64) { return poissonTails(k, c[1]) })
		share, all := 0.0, 0.0
		for i, a := range k1 {
			for j, b := range k2 {
				if a+b == 0 || m1[i]*m2[j] < 1e-7 {
					continue
				}
				iv, err := RateRatioExact(a, 1, b, 1, 0.95)
				require.NoError(t, err)
				all += m1[i] * m2[j]
				if r := c[0] / c[1]; iv.Low <= r && r <= iv.High {
					share += m1[i] * m2[j]
				}
			}
		}
		t.Logf("%v: %.4f of %.4f", c, share/all, all)
	}
}

func TestCoverageOfBootstrapLimits(t *testing.T) {
	const runs = 1500
	for _, n := range []int{15, 30, 60, 150} {
		rng := rand.New(rand.NewPCG(90, uint64(n)))
		percentile, bca := 0, 0
		for run := range runs {
			events, time := make([]float64, n), make([]float64, n)
			for i := range n {
				time[i] = 20 + 60*rng.Float64()
				events[i] = float64(poissonCount(rng, 0.03*time[i]*(rng.ExpFloat64()+rng.ExpFloat64())/2))
			}
			b, err := Bootstrap(n, func(w []float64) (float64, error) { return dot(w, events) / dot(w, time), nil },
				BootstrapOptions{Replicates: 600, Seed: uint64(run), Level: 0.95})
			require.NoError(t, err)
			percentile += inside(b.Percentile, 0.03)
			bca += inside(b.BCa, 0.03)
		}
		t.Logf("%d units: percentile %.3f, BCa %.3f", n, float64(percentile)/runs, float64(bca)/runs)
	}
}

func TestCoverageOfCox(t *testing.T) {
	const runs = 2000
	for _, c := range []struct {
		n           int
		share, rate float64
		ratio       float64
	}{{60, 0.5, 0.05, 2}, {200, 0.5, 0.002, 2}, {200, 0.2, 0.004, 2}, {400, 0.3, 0.001, 1}, {400, 0.1, 0.003, 2}, {300, 0.5, 0.03, 0.5}} {
		rng := rand.New(rand.NewPCG(91, uint64(c.n)))
		hits, none, events := 0, 0, 0.0
		for range runs {
			p := CoxPatterns{Names: []string{"x", "z"}}
			var rows []CoxRow
			for i := range c.n {
				x, z := 0.0, rng.NormFloat64()
				if rng.Float64() < c.share {
					x = 1
				}
				p.X = append(p.X, x, z)
				day := math.Ceil(rng.ExpFloat64() / (c.rate * math.Pow(c.ratio, x) * math.Exp(0.3*z)))
				rows = append(rows, CoxRow{Pattern: i, Time: math.Min(day, 30), Event: day <= 30, Count: 1})
			}
			f, err := FitCox(p, rows, CoxOptions{})
			if err != nil {
				none++
				continue
			}
			events += f.Events / runs
			e, err := f.Wald(0, f.ModelCovariance(), 0.95)
			require.NoError(t, err)
			if math.IsInf(e.SE, 1) {
				none++
				continue
			}
			hits += inside(e.Limits, math.Log(c.ratio))
		}
		t.Log(fmt.Sprintf("%+v: %.1f events, withheld %d, covered %.3f", c, events, none, float64(hits)/float64(runs-none)))
	}
}
