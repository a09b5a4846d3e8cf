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

// Exact sums over two binomial laws: 93-97 %, or more with the caution that says so.
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
		share, warned := 0.0, 0.0
		for i, a := range k1 {
			for j, b := range k2 {
				if len(NewcombeWarnings(a, c.n1, b, c.n2)) > 0 {
					warned += m1[i] * m2[j]
				}
				iv, err := Newcombe(a, c.n1, b, c.n2, 0.95)
				require.NoError(t, err)
				if d := c.p1 - c.p2; iv.Low <= d && d <= iv.High {
					share += m1[i] * m2[j]
				}
			}
		}
		t.Logf("%+v: %.4f, with a caution %.2f", c, share, warned)
		requireInRangeOrWarned(t, fmt.Sprintf("%+v", c), share, warned)
	}
}

// requireInRangeOrWarned fails where limits at 95 % cover less than 93 %, or more than
// 97 % without a caution.
func requireInRangeOrWarned(t *testing.T, about string, share, warned float64) {
	t.Helper()
	require.GreaterOrEqual(t, share, 0.93, about)
	if share > 0.97 {
		require.Greater(t, warned, 0.9, about)
	}
}

// The same over two Poisson laws. Exact limits never cover less than they say.
func TestCoverageOfRateRatios(t *testing.T) {
	for _, c := range [][2]float64{{1, 1}, {2, 4}, {5, 5}, {5, 20}, {10, 10}, {20, 20}, {20, 60}, {60, 60}} {
		k1, m1 := masses(400, func(k int64) (float64, float64) { return poissonTails(k, c[0]) })
		k2, m2 := masses(400, func(k int64) (float64, float64) { return poissonTails(k, c[1]) })
		share, all, warned := 0.0, 0.0, 0.0
		for i, a := range k1 {
			for j, b := range k2 {
				if a+b == 0 || m1[i]*m2[j] < 1e-7 {
					continue
				}
				iv, err := RateRatioExact(a, 1, b, 1, 0.95)
				require.NoError(t, err)
				all += m1[i] * m2[j]
				if len(RateRatioWarnings(a, b)) > 0 {
					warned += m1[i] * m2[j]
				}
				if r := c[0] / c[1]; iv.Low <= r && r <= iv.High {
					share += m1[i] * m2[j]
				}
			}
		}
		t.Logf("%v: %.4f, with a caution %.2f", c, share/all, warned/all)
		require.GreaterOrEqual(t, share/all, 0.95-1e-6, "%v", c)
		requireInRangeOrWarned(t, fmt.Sprint(c), share/all, warned/all)
	}
}

// A rate of overdispersed counts over unequal times: from 50 units on limits cover
// 93-97 %, below that they fall short and say so.
func TestCoverageOfBootstrapLimits(t *testing.T) {
	const runs = 1500
	for _, n := range []int{15, 30, 50, 150} {
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
			require.Equal(t, n < 50, len(b.Warnings) > 0)
			percentile += inside(b.Percentile, 0.03)
			bca += inside(b.BCa, 0.03)
		}
		t.Logf("%d units: percentile %.3f, BCa %.3f", n, float64(percentile)/runs, float64(bca)/runs)
		low, high := 0.86, 0.945
		if n >= 50 {
			low, high = 0.93, 0.97
		}
		requireCoverage(t, fmt.Sprintf("percentile, %d units", n), percentile, runs, low, high)
		requireCoverage(t, fmt.Sprintf("BCa, %d units", n), bca, runs, low, high)
	}
}

// drawTimes draws n independent persons, a share of them with x = 1, and one covariate.
func drawTimes(rng *rand.Rand, n int, share, rate, ratio float64) (CoxPatterns, []CoxRow) {
	p := CoxPatterns{Names: []string{"x", "z"}}
	var rows []CoxRow
	for i := range n {
		x, z := 0.0, rng.NormFloat64()
		if rng.Float64() < share {
			x = 1
		}
		p.X = append(p.X, x, z)
		day := math.Ceil(rng.ExpFloat64() / (rate * math.Pow(ratio, x) * math.Exp(0.3*z)))
		rows = append(rows, CoxRow{Pattern: i, Time: math.Min(day, 30), Event: day <= 30, Count: 1})
	}
	return p, rows
}

// Wald limits of a log hazard ratio from the model's own covariance: 93-97 %, or more
// with the warning of few events. Fits that withhold the limits are left out.
func TestCoverageOfCox(t *testing.T) {
	const runs = 2000
	for _, c := range []struct {
		n                  int
		share, rate, ratio float64
	}{{60, 0.5, 0.05, 2}, {200, 0.5, 0.002, 2}, {200, 0.2, 0.004, 2}, {400, 0.3, 0.001, 1}, {400, 0.1, 0.003, 2}, {300, 0.5, 0.03, 0.5}} {
		rng := rand.New(rand.NewPCG(91, uint64(c.n)))
		hits, answered, warned, events := 0, 0, 0.0, 0.0
		for range runs {
			p, rows := drawTimes(rng, c.n, c.share, c.rate, c.ratio)
			f, err := FitCox(p, rows, CoxOptions{})
			require.NoError(t, err)
			events += f.Events / runs
			e, err := f.Wald(0, f.ModelCovariance(), 0.95)
			require.NoError(t, err)
			if math.IsInf(e.SE, 1) {
				require.NotEmpty(t, f.Warnings)
				continue
			}
			answered++
			hits += inside(e.Limits, math.Log(c.ratio))
			if len(f.Warnings) > 0 {
				warned++
			}
		}
		share := float64(hits) / float64(answered)
		t.Logf("%+v: %.1f events, withheld %d, covered %.3f, with a warning %.2f", c, events, runs-answered, share, warned/float64(answered))
		require.Less(t, runs-answered, runs/20)
		requireInRangeOrWarned(t, fmt.Sprintf("%+v", c), share, warned/float64(answered))
	}
}
