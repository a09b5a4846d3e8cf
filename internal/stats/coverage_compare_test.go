//go:build coverage

package stats

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat/distuv"
)

// nullService draws a service in which every clinician works alike: 8 to 40 of
// them, 20 to 150 patients each, negative binomial visits with variance 2.2 times
// the mean and a predicted risk that differs between patients. It returns the units,
// calibrated so that the totals agree, and Pearson's dispersion over patients.
func nullService(rng *rand.Rand) (units []UnitCount, phi float64) {
	units = make([]UnitCount, 8+rng.IntN(33))
	var total, expected, patients float64
	for i := range units {
		for range 20 + rng.IntN(131) {
			mu := 0.5 + 1.5*rng.Float64()
			rate := distuv.Gamma{Alpha: mu / 1.2, Beta: 1 / 1.2, Src: rng}.Rand()
			y := distuv.Poisson{Lambda: rate, Src: rng}.Rand()
			units[i].Observed, units[i].Expected = units[i].Observed+y, units[i].Expected+mu
			phi += (y - mu) * (y - mu) / mu
			total, expected, patients = total+y, expected+mu, patients+1
		}
	}
	for i := range units {
		units[i].Expected *= total / expected
	}
	return units, phi / (patients - 1)
}

func TestCoverageFunnelWithoutTrueDifference(t *testing.T) {
	rng := rand.New(rand.NewPCG(2024, 7))
	type tally struct{ near, far, all int }
	count := map[string]*tally{"chance only": {}, "dispersion divided": {}, "divided, additive": {}, "multiplicative": {}}
	shrunkApart, services := 0, 500
	for range services {
		units, phi := nullService(rng)
		thin, err := Disperse(units, phi)
		require.NoError(t, err)
		add := func(name string, units []UnitCount, spread Overdispersion) {
			opt := DefaultFunnel()
			opt.Spread = spread
			f, err := RatioFunnel(units, opt)
			require.NoError(t, err)
			for _, p := range f.Points {
				count[name].all++
				if p.Flag != 0 {
					count[name].near++
				}
				if p.Flag*p.Flag == 4 {
					count[name].far++
				}
			}
		}
		add("chance only", units, NoOverdispersion)
		add("multiplicative", units, Multiplicative)
		add("dispersion divided", thin, NoOverdispersion)
		add("divided, additive", thin, Additive)
		s, err := ShrinkRatios(thin, ShrinkOptions{Level: 0.95})
		require.NoError(t, err)
		for _, u := range s.Units {
			if u.Limits.Low > 1 || u.Limits.High < 1 {
				shrunkApart++
			}
		}
	}
	share := func(n int, c *tally) float64 { return float64(n) / float64(c.all) }
	for name, c := range count {
		t.Logf("%s: outside 95 %% %.4f, outside 99.8 %% %.4f of %d", name, share(c.near, c), share(c.far, c), c.all)
	}
	for _, name := range []string{"dispersion divided", "divided, additive"} {
		require.LessOrEqual(t, share(count[name].far, count[name]), 0.005, name)
		require.LessOrEqual(t, share(count[name].near, count[name]), 0.055, name)
	}
	require.Greater(t, share(count["chance only"].far, count["chance only"]), 0.02, "the world must be one where ignoring the dispersion does harm")
	all := count["dispersion divided"].all
	t.Logf("shrunken limits without 1: %.4f", float64(shrunkApart)/float64(all))
	require.Less(t, float64(shrunkApart)/float64(all), 0.02)
}

func TestCoverageChartsOfASteadySeries(t *testing.T) {
	for _, c := range []struct {
		name    string
		periods int
		mean    float64
		extra   float64 // variance over mean
		chart   func([]ChartPeriod, ChartOptions) (Chart, error)
		opt     ChartOptions
	}{
		{"u, few", 24, 6, 1, UChart, ChartOptions{}},
		{"u, many", 36, 60, 1, UChart, ChartOptions{}},
		{"p", 24, 12, 1, PChart, ChartOptions{}},
		{"u, Laney", 36, 60, 2, UChart, ChartOptions{Laney: true}},
	} {
		rng := rand.New(rand.NewPCG(99, 1))
		const charts = 3000
		var beyond, runs, any int
		var statedBeyond, statedRuns, stated float64
		for range charts {
			ch, err := c.chart(steadySeries(rng, c.periods, c.mean, c.extra, c.name == "p"), c.opt)
			require.NoError(t, err)
			off := false
			for _, p := range ch.Points {
				off = off || p.Beyond != 0
			}
			broke := ch.Runs.Shift || ch.Runs.FewCrossings
			beyond, runs, any = beyond+oneIf(off), runs+oneIf(broke), any+oneIf(len(ch.Signals) > 0)
			statedBeyond, statedRuns, stated = statedBeyond+ch.FalseBeyond, statedRuns+ch.Runs.FalseEither, stated+ch.FalseSignal
		}
		check := func(what string, seen int, told float64) {
			got, want := float64(seen)/charts, told/charts
			t.Logf("%s: %s %.4f, stated %.4f", c.name, what, got, want)
			require.LessOrEqual(t, got, want+3*math.Sqrt(want*(1-want)/charts), "%s: %s", c.name, what)
		}
		check("outside limits", beyond, statedBeyond)
		check("runs rules", runs, statedRuns)
		check("any signal", any, stated)
	}
}

// steadySeries draws periods of size 30 to 60 per 45 with the mean asked for.
func steadySeries(rng *rand.Rand, n int, mean, extra float64, binomial bool) []ChartPeriod {
	out := make([]ChartPeriod, n)
	for i := range out {
		size := float64(30 + rng.IntN(31))
		m := mean * size / 45
		if extra > 1 {
			m = distuv.Gamma{Alpha: m / (extra - 1), Beta: 1 / (extra - 1), Src: rng}.Rand()
		}
		out[i] = ChartPeriod{distuv.Poisson{Lambda: m, Src: rng}.Rand(), size}
		if binomial {
			out[i].Events = distuv.Binomial{N: size, P: mean / 45, Src: rng}.Rand()
		}
	}
	return out
}

func TestCoverageCusumRunLengths(t *testing.T) {
	mix := []RiskGroup{{0.02, 3}, {0.05, 4}, {0.12, 2}, {0.25, 1}}
	bernoulli, err := NewBernoulliCusum(mix, 2)
	require.NoError(t, err)
	poisson, err := NewPoissonCusum([]RiskGroup{{3, 1}, {5, 2}, {8, 1}}, 2)
	require.NoError(t, err)
	for name, c := range map[string]struct {
		design CusumDesign
		stated float64
	}{"cases": {bernoulli, 1500}, "months": {poisson, 240}} {
		l, err := c.design.LimitFor(c.stated, 2)
		require.NoError(t, err)
		calm, err := c.design.Simulate(l.Limit, 1, 8000, 10_000_000, 17)
		require.NoError(t, err)
		double, err := c.design.Simulate(l.Limit, 2, 8000, 10_000_000, 18)
		require.NoError(t, err)
		t.Logf("%s: limit %.3f, in control %.1f (SE %.1f), stated %.1f for %.0f; doubled %.1f (SE %.2f), theory %.1f", name, l.Limit, calm.Mean, calm.SE, l.InControl, c.stated, double.Mean, double.SE, l.Detection)
		require.GreaterOrEqual(t, l.InControl, c.stated, name)
		require.InDelta(t, l.InControl, calm.Mean, 0.05*l.InControl, name)
		require.GreaterOrEqual(t, calm.Mean+3*calm.SE, c.stated, name)
		require.InDelta(t, l.Detection, double.Mean, 0.03*l.Detection, name)
	}
}
