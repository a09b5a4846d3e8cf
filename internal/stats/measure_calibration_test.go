package stats

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// Worked by hand: two readings with SD 0.7 each make a difference with variance 0.98;
// beside a true variance of 1 its reliability is 1/1.98 and a slope is seen at half.
func TestCalibrationByHand(t *testing.T) {
	rel := Reliability{Value: 1 / 1.98, SE: 0.05}
	c, err := CalibrateSlope(-0.4, 0.01, rel, 0.95)
	require.NoError(t, err)
	require.InDelta(t, -0.792, c.Slope, 1e-12)
	// Var = 0.01*1.98^2 + 0.16*0.0025*1.98^4.
	se := math.Sqrt(0.01*3.9204 + 0.16*0.0025*3.9204*3.9204)
	require.InDelta(t, se, c.SE, 1e-12)
	require.InDelta(t, -0.792-1.959963984540054*se, c.Limits.Low, 1e-10)
	require.InDelta(t, -0.792+1.959963984540054*se, c.Limits.High, 1e-10)
	require.Empty(t, c.Warnings)
	rel.SE = 0.2
	c, err = CalibrateSlope(-0.4, 0.01, rel, 0.95)
	require.NoError(t, err)
	require.Equal(t, "reliability-uncertain", c.Warnings[0].Code)
}

// The variances of the mean squares of an uneven design against draws.
func TestMeanSquareVariancesAgainstDraws(t *testing.T) {
	rng := rand.New(rand.NewPCG(9, 0))
	sizes := []int{1, 2, 2, 3, 5, 2, 4, 1, 2, 3, 2, 2, 2, 3, 2, 2, 6, 2, 2, 2}
	const runs, betweenSD, withinSD = 20000, 1.5, 0.8
	var ofBetween, ofWithin []float64
	var r Repeats
	for range runs {
		groups := make([][]float64, len(sizes))
		for i, n := range sizes {
			truth := betweenSD * rng.NormFloat64()
			for range n {
				groups[i] = append(groups[i], truth+withinSD*rng.NormFloat64())
			}
		}
		var err error
		r, err = CollectRepeats(groups)
		require.NoError(t, err)
		ofBetween, ofWithin = append(ofBetween, r.Between/r.dfBetween()), append(ofWithin, r.Within/r.dfWithin())
	}
	wantBetween, wantWithin := r.meanSquareVariances(betweenSD*betweenSD, withinSD*withinSD)
	mean, squares := meanAndSquares(ofBetween)
	require.InEpsilon(t, wantBetween, squares/(runs-1), 0.05)
	require.InEpsilon(t, withinSD*withinSD+r.size()*betweenSD*betweenSD, mean, 0.01)
	_, squares = meanAndSquares(ofWithin)
	require.InEpsilon(t, wantWithin, squares/(runs-1), 0.05)
}

func TestCalibrationProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		slope := rapid.Float64Range(-5, 5).Draw(t, "slope")
		variance := rapid.Float64Range(0, 4).Draw(t, "variance")
		rel := Reliability{Value: rapid.Float64Range(0.05, 1).Draw(t, "reliability"), SE: rapid.Float64Range(0, 0.3).Draw(t, "se")}
		c, err := CalibrateSlope(slope, variance, rel, 0.9)
		if err != nil || math.Abs(c.Slope) < math.Abs(slope) || !(c.Limits.Low <= c.Slope && c.Slope <= c.Limits.High) || c.SE < math.Sqrt(variance) {
			t.Fatalf("%v (%v)", c, err)
		}
		// Measuring in another unit divides slope and limits alike.
		s, err := CalibrateSlope(slope/10, variance/100, rel, 0.9)
		if err != nil || !almost(10*s.Limits.Low, c.Limits.Low, 1e-9) || !almost(10*s.Slope, c.Slope, 1e-9) {
			t.Fatalf("unit: %v and %v (%v)", c, s, err)
		}
	})
}

// With perfect readings nothing changes; given columns that explain some of the readings
// the reliability falls as the partial variances say.
func TestCalibrationGivenOtherColumns(t *testing.T) {
	c, err := CalibrateSlope(2, 0.25, Reliability{Value: 1}, 0.95)
	require.NoError(t, err)
	require.Equal(t, [2]float64{2, 0.5}, [2]float64{c.Slope, c.SE})
	// Readings of variance 4, error 1; columns explain 2: left 2, of which 1 is error.
	r, err := Reliability{Value: 0.75, SE: 0.1}.Given(0.5)
	require.NoError(t, err)
	require.InDelta(t, 0.5, r.Value, 1e-15)
	require.InDelta(t, 0.2, r.SE, 1e-15)
	_, err = Reliability{Value: 0.5}.Given(0.5)
	require.ErrorIs(t, err, ErrNoAnswer)
	for _, bad := range []float64{-0.1, 1, math.NaN()} {
		_, err = Reliability{Value: 0.5}.Given(bad)
		require.ErrorIs(t, err, ErrBadInput)
	}
}

func TestCalibrationRefusesHostileInput(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	for _, bad := range [][4]float64{{nan, 1, 0.5, 0.1}, {inf, 1, 0.5, 0.1}, {1, -1, 0.5, 0.1}, {1, nan, 0.5, 0.1}, {1, 1, nan, 0.1}, {1, 1, 1.1, 0.1}, {1, 1, 0.5, nan}, {1, 1, 0.5, -1}} {
		_, err := CalibrateSlope(bad[0], bad[1], Reliability{Value: bad[2], SE: bad[3]}, 0.95)
		require.ErrorIs(t, err, ErrBadInput, "%v", bad)
	}
	for _, none := range []float64{0, -0.2} {
		_, err := CalibrateSlope(1, 1, Reliability{Value: none}, 0.95)
		require.ErrorIs(t, err, ErrNoAnswer)
	}
	_, err := CalibrateSlope(1, 1, Reliability{Value: 0.5}, 95)
	require.ErrorIs(t, err, ErrBadInput)
	r, err := CollectRepeats([][]float64{{1, 2}, {2, 1}, {1, 2}})
	require.NoError(t, err)
	for _, m := range []float64{0, nan, inf} {
		_, err = r.Reliability(m)
		require.ErrorIs(t, err, ErrBadInput)
	}
	// Subjects alike, repeats apart: the between component is negative.
	rel, err := r.Reliability(1)
	require.NoError(t, err)
	require.Negative(t, rel.Value)
	_, err = r.Reliability(1000)
	require.ErrorIs(t, err, ErrNoAnswer)
}
