//go:build coverage

package stats

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
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
			y := overdispersed(rng, mu, 2.2)
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

// The CUSUM keeps the in-control run length that its limit states, and finds a
// doubled rate in the time that theory gives, on cases drawn one by one.
func TestCoverageOfCusumLimits(t *testing.T) {
	mix := []CaseMix{{0.02, 3}, {0.05, 4}, {0.12, 2}, {0.25, 1}}
	calm, err := BernoulliScoreLaw(mix, 2, 1)
	require.NoError(t, err)
	doubled, err := BernoulliScoreLaw(mix, 2, 2)
	require.NoError(t, err)
	limit, stated, err := CusumLimit(calm, 1500)
	require.NoError(t, err)
	theory, err := RunLength(doubled, limit)
	require.NoError(t, err)
	risks := []float64{0.02, 0.02, 0.02, 0.05, 0.05, 0.05, 0.05, 0.12, 0.12, 0.25}
	rng := rand.New(rand.NewPCG(17, 18))
	mean := func(truth float64) float64 {
		const runs = 8000
		steps := 0
		for range runs {
			for s := 0.0; s < limit; steps++ {
				p := risks[rng.IntN(len(risks))]
				event, none, err := BernoulliScores(p, 2)
				require.NoError(t, err)
				if rng.Float64() >= truth*p/(1+(truth-1)*p) {
					event = none
				}
				s = max(0, s+event)
			}
		}
		return float64(steps) / runs
	}
	require.InDelta(t, stated, mean(1), 0.05*stated)
	require.InDelta(t, theory, mean(2), 0.03*theory)
}
