//go:build coverage

package stats

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat/distuv"
)

// overdispersed draws a count with the given mean and variance phi times it, by a
// gamma-mixed Poisson law; phi 1 is the Poisson law itself.
func overdispersed(rng *rand.Rand, mean, phi float64) float64 {
	if phi > 1 {
		rate := 1 / (phi - 1)
		mean = distuv.Gamma{Alpha: mean * rate, Beta: rate, Src: rng}.Rand()
	}
	return distuv.Poisson{Lambda: mean, Src: rng}.Rand()
}

// A world without differences: 60 units, 5 to 80 events expected, counts with a
// variance of phi times the mean. The share outside the near limits should be 5 %.
func TestCoverageOfFunnelLimits(t *testing.T) {
	const runs, n = 300, 60
	for _, c := range []struct {
		phi       float64
		spread    Overdispersion
		low, high float64
	}{
		{1, NoOverdispersion, 0.93, 0.97},
		{1, Multiplicative, 0.93, 0.97},
		{2, Multiplicative, 0.93, 0.97},
		// The additive form gives large units more room and small ones too little
		// where the true spread is multiplicative.
		{2, Additive, 0.92, 0.97},
		// What plain limits do with such counts: this is why the spread is there.
		{2, NoOverdispersion, 0.80, 0.88},
	} {
		rng := rand.New(rand.NewPCG(31, uint64(c.phi*10)+uint64(c.spread)))
		opt := DefaultFunnel()
		opt.Spread = c.spread
		inside := 0
		for range runs {
			units := make([]UnitCount, n)
			for i := range units {
				units[i].Expected = 5 + 75*rng.Float64()
				units[i].Observed = overdispersed(rng, units[i].Expected, c.phi)
			}
			f, err := RatioFunnel(units, opt)
			require.NoError(t, err)
			for _, p := range f.Points {
				if p.Flag == 0 {
					inside++
				}
			}
		}
		requireCoverage(t, "funnel", inside, runs*n, c.low, c.high)
	}
}

// Periods with a variance of phi times the mean; 3 standard errors should hold
// about 99.7 % of points.
func TestCoverageOfChartLimits(t *testing.T) {
	const runs, n = 800, 36
	for _, c := range []struct {
		phi       float64
		laney     bool
		low, high float64
	}{{1, false, 0.993, 1}, {1, true, 0.990, 1}, {2, true, 0.988, 1}, {2, false, 0.93, 0.98}} {
		rng := rand.New(rand.NewPCG(32, uint64(c.phi)))
		inside := 0
		for range runs {
			periods := make([]Period, n)
			for i := range periods {
				size := 20 + 60*rng.Float64()
				periods[i] = Period{overdispersed(rng, 0.8*size, c.phi), size}
			}
			chart, err := UChart(periods, ChartOptions{Width: 3, Laney: c.laney})
			require.NoError(t, err)
			for _, p := range chart.Points {
				if p.Beyond == 0 {
					inside++
				}
			}
		}
		requireCoverage(t, "3 standard errors", inside, runs*n, c.low, c.high)
	}
}

// Simulated charts signal as often as the exact rate says.
func TestCoverageOfRunsRules(t *testing.T) {
	const runs = 20000
	for _, n := range []int{12, 24, 36} {
		rng := rand.New(rand.NewPCG(33, uint64(n)))
		signals, rate := 0, 0.0
		for range runs {
			values := make([]float64, n)
			for i := range values {
				values[i] = rng.NormFloat64()
			}
			r, err := RunsRules(values, 0)
			require.NoError(t, err)
			if rate = r.FalseSignal; r.Shift || r.Few {
				signals++
			}
		}
		noise := 4 * math.Sqrt(rate*(1-rate)/runs)
		requireCoverage(t, "runs rules", signals, runs, rate-noise, rate+noise)
	}
}

// Mean run length of simulated CUSUMs, in and out of control, on a mix of risks.
// The noise is about 1 % and the chain's error up to 2 %.
func TestCoverageOfRunLength(t *testing.T) {
	const runs = 8000
	for _, truth := range []float64{1, 2} {
		law, err := BernoulliScoreLaw(mixedRisks, 2, 1)
		require.NoError(t, err)
		limit, _, err := CusumLimit(law, 1000)
		require.NoError(t, err)
		actual, err := BernoulliScoreLaw(mixedRisks, 2, truth)
		require.NoError(t, err)
		want, err := RunLength(actual, limit)
		require.NoError(t, err)
		rng := rand.New(rand.NewPCG(34, uint64(truth)))
		steps := 0
		for range runs {
			steps += simulatedRun(rng, limit, truth)
		}
		got := float64(steps) / runs
		t.Logf("truth %g, limit %.4f: %.1f simulated, %.1f computed", truth, limit, got, want)
		require.True(t, relative(got, want, 0.04))
	}
}

// simulatedRun draws patients one by one, knowing nothing of score laws.
func simulatedRun(rng *rand.Rand, limit, truth float64) int {
	sum, total := 0.0, 0.0
	for _, m := range mixedRisks {
		total += m.Share
	}
	for step := 1; ; step++ {
		pick, risk := rng.Float64()*total, 0.0
		for _, m := range mixedRisks {
			if risk = m.Level; pick < m.Share {
				break
			}
			pick -= m.Share
		}
		odds := truth * risk / (1 - risk)
		score := -math.Log(1 - risk + 2*risk)
		if rng.Float64() < odds/(1+odds) {
			score += math.Ln2
		}
		if sum = max(0, sum+score); sum >= limit {
			return step
		}
	}
}

// An EWMA of normal-like counts: most charts of 24 quiet periods stay inside.
func TestCoverageOfEWMA(t *testing.T) {
	const runs, n = 3000, 24
	rng := rand.New(rand.NewPCG(35, 1))
	quiet := 0
	for range runs {
		periods := make([]Period, n)
		for i := range periods {
			size := 100 + 100*rng.Float64()
			periods[i] = Period{distuv.Poisson{Lambda: 0.8 * size, Src: rng}.Rand(), size}
		}
		// The first period, of a huge size, sets the centre as good as known.
		known := append([]Period{{8e7, 1e8}}, periods...)
		chart, err := UChart(known, ChartOptions{Width: 3, Baseline: 1})
		require.NoError(t, err)
		chart.Points = chart.Points[1:]
		average, err := chart.EWMA(DefaultEWMA())
		require.NoError(t, err)
		inside := true
		for _, p := range average {
			inside = inside && p.Beyond == 0
		}
		if inside {
			quiet++
		}
	}
	// A run length of 370 leaves (1-1/370)^24 = 0.937 quiet; exact early limits are
	// tighter than those it assumes, so a little less.
	requireCoverage(t, "quiet averages", quiet, runs, 0.90, 0.95)
}
