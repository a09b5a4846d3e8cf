//go:build coverage

package stats

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
)

// measured is one simulated study: everybody read once for the model, the first few read
// again, and the corrected slope from both.
type measured struct {
	subjects, repeated int
	errorSD            float64 // true SD is 1
}

const trueSlope = 0.8

// corrected is the result with the limits of the slope as it was fitted.
type corrected struct {
	CalibratedSlope
	naiveLimits Interval
}

func (m measured) draw(rng *rand.Rand) (corrected, error) {
	x, y := make([]float64, m.subjects), make([]float64, m.subjects)
	groups := make([][]float64, m.repeated)
	for i := range x {
		truth := rng.NormFloat64()
		x[i], y[i] = truth+m.errorSD*rng.NormFloat64(), trueSlope*truth+rng.NormFloat64()
		if i < m.repeated {
			groups[i] = []float64{x[i], truth + m.errorSD*rng.NormFloat64()}
		}
	}
	naive, variance, _ := lineSlope(y)(x)
	repeats, err := CollectRepeats(groups)
	if err != nil {
		return corrected{}, err
	}
	rel, err := repeats.Reliability(1)
	if err != nil {
		return corrected{}, err
	}
	half := intervalZ(0.95) * math.Sqrt(variance)
	c, err := CalibrateSlope(naive, variance, rel, 0.95)
	return corrected{c, Interval{naive - half, naive + half}}, err
}

// The corrected slope covers where the reliability is well known, as the doc says; where
// it is not, the limits are too narrow and most results carry their warning.
func TestCoverageOfCalibratedSlope(t *testing.T) {
	const runs = 2000
	for k, c := range []struct {
		measured
		low, warned float64
	}{
		{measured{200, 200, 0.7}, 0.93, 0}, {measured{400, 100, 0.7}, 0.93, 0}, {measured{400, 100, 1}, 0.93, 0},
		{measured{1000, 150, 1}, 0.93, 0}, {measured{400, 40, 1}, 0.91, 0.6}, {measured{400, 20, 1}, 0.85, 0.75},
	} {
		rng := rand.New(rand.NewPCG(31, uint64(k)))
		hits, naiveHits, warned, failed := 0, 0, 0, 0
		for range runs {
			s, err := c.draw(rng)
			if err != nil {
				require.ErrorIs(t, err, ErrNoAnswer)
				failed++
				continue
			}
			hits += inside(s.Limits, trueSlope)
			naiveHits += inside(s.naiveLimits, trueSlope)
			warned += min(1, len(s.Warnings))
		}
		about := fmt.Sprintf("%d subjects, %d repeated, error SD %g", c.subjects, c.repeated, c.errorSD)
		t.Logf("%s: %d without answer, %d warned", about, failed, warned)
		requireCoverage(t, about, hits, runs, c.low, 0.97)
		requireCoverage(t, about+", uncorrected", naiveHits, runs, 0, 0.2)
		require.GreaterOrEqual(t, float64(warned), c.warned*runs, about)
		require.LessOrEqual(t, float64(failed), 0.02*runs, about)
	}
}

// Planned sizes must give the planned power, and the limits of the scatter of
// paired readings must cover.
func TestCoverageOfPlannedPowerAndScatter(t *testing.T) {
	const runs = 4000
	rng := rand.New(rand.NewPCG(32, 0))
	size, err := SizeTwoProportions(0.1, 0.2, DefaultPowerDesign)
	require.NoError(t, err)
	rates, err := SizeTwoRates(RatePair{2, 3, 1}, DefaultPowerDesign)
	require.NoError(t, err)
	found, foundRate, hits := 0, 0, 0
	for range runs {
		a, b := share(rng, size.First, 0.1), share(rng, size.Second, 0.2)
		pooled, _ := proportionSDs((a+b)/2, (a+b)/2, 1)
		if math.Abs(a-b)*math.Sqrt(float64(size.First)) > 1.959964*pooled {
			found++
		}
		x, y := 0, 0
		for range rates.First {
			x, y = x+poissonDraw(rng, 2), y+poissonDraw(rng, 3)
		}
		if math.Abs(float64(x-y)) > 1.959964*math.Sqrt(float64(x+y)) {
			foundRate++
		}
		groups := make([][]float64, 25)
		for i := range groups {
			groups[i] = []float64{float64(i) + 0.7*rng.NormFloat64(), float64(i) + 0.7*rng.NormFloat64()}
		}
		r, err := CollectRepeats(groups)
		require.NoError(t, err)
		s, err := WithinSD(r, 0.95)
		require.NoError(t, err)
		hits += inside(s.SDLimits, 0.7)
	}
	requireCoverage(t, "power of two proportions", found, runs, 0.78, 0.83)
	requireCoverage(t, "power of two rates", foundRate, runs, 0.78, 0.83)
	requireCoverage(t, "within-subject SD", hits, runs, 0.94, 0.96)
}

func share(rng *rand.Rand, n int64, p float64) float64 {
	k := 0
	for range n {
		if rng.Float64() < p {
			k++
		}
	}
	return float64(k) / float64(n)
}
