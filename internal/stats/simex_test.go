package stats

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// lineSlope is the least-squares slope of y on x and its variance.
func lineSlope(y []float64) FitOn {
	return func(x []float64) (float64, float64, error) {
		meanX, squares := meanAndSquares(x)
		meanY, _ := meanAndSquares(y)
		cross := 0.0
		for i := range x {
			cross += (x[i] - meanX) * (y[i] - meanY)
		}
		slope, residual := cross/squares, 0.0
		for i := range x {
			gap := y[i] - meanY - slope*(x[i]-meanX)
			residual += gap * gap
		}
		return slope, residual / float64(len(x)-2) / squares, nil
	}
}

// Reference: R lm and optimize with the same noise, measure_simex.R.
func TestSIMEXAgreesWithR(t *testing.T) {
	var ref struct {
		X, Y, Added, Curve                []float64
		Noise                             [][][]float64
		SD, Quadratic, Variance, Rational float64
	}
	loadReference(t, "measure_simex", &ref)
	o := SIMEXOptions{Added: ref.Added, Replicates: len(ref.Noise[0]), Level: 0.95}
	sd, err := o.check(ref.X, []float64{ref.SD})
	require.NoError(t, err)
	got, err := simex(ref.X, sd, lineSlope(ref.Y), o, func(step, b, i int) float64 { return ref.Noise[step][b][i] })
	require.NoError(t, err)
	requireVector(t, ref.Curve, got.Curve, 1e-10, "curve")
	requireVector(t, []float64{ref.Quadratic, math.Sqrt(ref.Variance)}, []float64{got.Quadratic, got.SE}, 1e-9, "parabola")
	// Both searches for the pole stop where the sum of squares is flat to rounding.
	requireVector(t, []float64{ref.Rational}, []float64{got.Rational}, 1e-5, "ratio")
}

// On a linear model SIMEX and calibration must agree with each other and the truth.
func TestSIMEXAgreesWithCalibration(t *testing.T) {
	const n, slope, errorSD = 4000, 1.5, 0.6
	rng := rand.New(rand.NewPCG(21, 0))
	x, y, pairs := make([]float64, n), make([]float64, n), make([][]float64, n)
	for i := range x {
		truth := rng.NormFloat64()
		pairs[i] = []float64{truth + errorSD*rng.NormFloat64(), truth + errorSD*rng.NormFloat64()}
		x[i], y[i] = pairs[i][0], slope*truth+0.5*rng.NormFloat64()
	}
	repeats, err := CollectRepeats(pairs)
	require.NoError(t, err)
	rel, err := repeats.Reliability(1)
	require.NoError(t, err)
	naive, variance, err := lineSlope(y)(x)
	require.NoError(t, err)
	c, err := CalibrateSlope(naive, variance, rel, 0.95)
	require.NoError(t, err)
	s, err := SIMEX(x, []float64{math.Sqrt(rel.Within)}, lineSlope(y), DefaultSIMEX)
	require.NoError(t, err)
	require.InDelta(t, slope/(1+errorSD*errorSD), naive, 0.05)
	require.InDelta(t, slope, c.Slope, 0.08)
	require.InDelta(t, c.Slope, s.Rational, 0.03)
	// The parabola corrects a little too little.
	require.InDelta(t, c.Slope, s.Quadratic, 0.1)
	require.Greater(t, s.Quadratic, naive)
	require.InEpsilon(t, math.Sqrt(variance)/rel.Value, s.SE, 0.3)
	again, err := SIMEX(x, []float64{math.Sqrt(rel.Within)}, lineSlope(y), DefaultSIMEX)
	require.NoError(t, err)
	require.Equal(t, s, again)
}

// A curve a + b/(c + v) must be read back exactly by the ratio, a parabola by the parabola.
func TestSIMEXExtrapolatesItsOwnCurves(t *testing.T) {
	added := []float64{0, 0.5, 1, 1.5, 2}
	rapid.Check(t, func(t *rapid.T) {
		a, b := rapid.Float64Range(-1, 1).Draw(t, "a"), rapid.Float64Range(0.5, 4).Draw(t, "b")
		c := rapid.Float64Range(1.2, 6).Draw(t, "c")
		ratio, parabola, spread := make([]float64, 5), make([]float64, 5), []float64{1, 1, 1, 1, 1}
		for i, v := range added {
			ratio[i], parabola[i] = a+b/(c+v), a-b*v+v*v/c
		}
		got, err := extrapolateSIMEX(added, ratio, spread, 0.95)
		if err != nil || !almost(got.Rational, a+b/(c-1), 1e-4) {
			t.Fatalf("ratio reads %g, want %g (%v)", got.Rational, a+b/(c-1), err)
		}
		got, err = extrapolateSIMEX(added, parabola, spread, 0.95)
		if err != nil || !almost(got.Quadratic, a+b+1/c, 1e-9) || !almost(got.SE, 1, 1e-9) {
			t.Fatalf("parabola reads %g, want %g (%v)", got.Quadratic, a+b+1/c, err)
		}
	})
	flat, err := extrapolateSIMEX(added, []float64{1, 2, 3, 4, 5}, []float64{1, 1, 1, 1, 1}, 0.95)
	require.NoError(t, err)
	require.True(t, math.IsNaN(flat.Rational))
	require.Equal(t, "no-rational", flat.Warnings[0].Code)
	_, err = extrapolateSIMEX(added, []float64{5, 4, 3, 2, 1}, []float64{1, 2, 3, 4, 5}, 0.95)
	require.ErrorIs(t, err, ErrNoAnswer)
}

func TestSIMEXWithoutErrorChangesNothing(t *testing.T) {
	x, y := []float64{1, 2, 3, 4, 6}, []float64{2, 1, 4, 3, 7}
	got, err := SIMEX(x, []float64{0}, lineSlope(y), DefaultSIMEX)
	require.NoError(t, err)
	require.InDelta(t, got.Naive, got.Quadratic, 1e-10)
	require.Equal(t, []float64{1, 2, 3, 4, 6}, x)
}

func TestSIMEXRefusesHostileInput(t *testing.T) {
	x, y := []float64{1, 2, 3, 4, 6}, []float64{2, 1, 4, 3, 7}
	fit, nan := lineSlope(y), math.NaN()
	_, err := SIMEX(nil, []float64{1}, fit, DefaultSIMEX)
	require.ErrorIs(t, err, ErrNoData)
	for _, sd := range [][]float64{nil, {1, 2}, {nan}, {-1}, {math.Inf(1)}} {
		_, err = SIMEX(x, sd, fit, DefaultSIMEX)
		require.ErrorIs(t, err, ErrBadInput, "%v", sd)
	}
	for _, o := range []SIMEXOptions{{}, {Added: []float64{1, 2}, Replicates: 9, Level: 0.9}, {Added: []float64{1, 1, 2}, Replicates: 9, Level: 0.9},
		{Added: []float64{0, 1, 2}, Replicates: 9, Level: 0.9}, {Added: []float64{1, 2, nan}, Replicates: 9, Level: 0.9}, {Added: []float64{1, 2, 3}, Replicates: 1, Level: 0.9}, {Added: []float64{1, 2, 3}, Replicates: 9, Level: nan}} {
		_, err = SIMEX(x, []float64{1}, fit, o)
		require.ErrorIs(t, err, ErrBadInput, "%v", o)
	}
	_, err = SIMEX([]float64{1, nan, 2}, []float64{1}, fit, DefaultSIMEX)
	require.ErrorIs(t, err, ErrBadInput)
	broken := errors.New("broken")
	_, err = SIMEX(x, []float64{1}, func([]float64) (float64, float64, error) { return 0, 0, broken }, DefaultSIMEX)
	require.ErrorIs(t, err, broken)
	_, err = SIMEX(x, []float64{1}, func([]float64) (float64, float64, error) { return nan, 1, nil }, DefaultSIMEX)
	require.ErrorIs(t, err, ErrNoConvergence)
}
