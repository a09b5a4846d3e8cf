package stats

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// Reference: R boot::boot.ci on the same replicates, measure_bootstrap.R.
func TestBootstrapLimitsAgreeWithR(t *testing.T) {
	var ref struct {
		Events, Time, Values, Jack, Levels []float64
		Estimate, Bias, SE                 float64
		Limits                             [][]float64
	}
	loadReference(t, "measure_bootstrap", &ref)
	ones := orConstant(nil, len(ref.Events), 1)
	ratio := func(w []float64) (float64, error) { return dot(w, ref.Events) / dot(w, ref.Time), nil }
	jack := leaveOneOut(ones, ratio)
	requireVector(t, ref.Jack, jack, 1e-12, "jackknife")
	require.NotEmpty(t, ref.Levels)
	for i, level := range ref.Levels {
		b := BootstrapResult{Estimate: ref.Estimate, Values: ref.Values}
		b.summarise(jack, level)
		require.Empty(t, b.Warnings)
		requireVector(t, ref.Limits[i], []float64{b.Percentile.Low, b.Percentile.High, b.BCa.Low, b.BCa.High}, 1e-8, "limits")
		requireVector(t, []float64{ref.Bias, ref.SE}, []float64{b.Bias, b.SE}, 1e-9, "bias and SE")
	}
}

// All n^n resamples of a small sample, counted one by one: the exact bootstrap law.
func TestBootstrapAgainstAllResamples(t *testing.T) {
	x := []float64{1, 2, 4, 9, 3}
	mean := func(w []float64) (float64, error) { return dot(w, x) / dot(w, orConstant(nil, len(x), 1)), nil }
	var all []float64
	var walk func(depth int, sum float64)
	walk = func(depth int, sum float64) {
		if depth == len(x) {
			all = append(all, sum/float64(len(x)))
			return
		}
		for _, v := range x {
			walk(depth+1, sum+v)
		}
	}
	walk(0, 0)
	want, squares := meanAndSquares(all)
	b, err := Bootstrap(len(x), mean, BootstrapOptions{Replicates: 20000, Seed: 3, Level: 0.9})
	require.NoError(t, err)
	require.InDelta(t, want, b.Estimate, 1e-12)
	require.InDelta(t, 0, b.Bias, 0.05)
	require.InDelta(t, math.Sqrt(squares/float64(len(all))), b.SE, 0.03)
	exact := percentileLimits(all, 0.9)
	require.InDelta(t, exact.Low, b.Percentile.Low, 0.2+1e-9)
	require.InDelta(t, exact.High, b.Percentile.High, 0.2+1e-9)
	require.Equal(t, "few-clusters", b.Warnings[0].Code)
}

func TestBootstrapProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := rapid.SliceOfN(rapid.Float64Range(-9, 9), 2, 15).Draw(t, "x")
		o := BootstrapOptions{Replicates: 60, Seed: rapid.Uint64().Draw(t, "seed"), Level: 0.8}
		run := func(scale, shift float64) BootstrapResult {
			b, err := Bootstrap(len(x), func(w []float64) (float64, error) {
				return shift + scale*dot(w, x)/float64(len(x)), nil
			}, o)
			if err != nil {
				t.Fatal(err)
			}
			return b
		}
		a, again, moved := run(1, 0), run(1, 0), run(4, 0)
		if a.Percentile != again.Percentile || a.BCa != again.BCa {
			t.Fatal("the same seed gave another result")
		}
		// Four is a power of two, so that scaling is exact and ties stay ties.
		if !almost(moved.BCa.Low, 4*a.BCa.Low, 1e-9) || !almost(moved.Percentile.High, 4*a.Percentile.High, 1e-9) || !almost(moved.SE, 4*a.SE, 1e-9) {
			t.Fatalf("scaling by 4: %v became %v", a, moved)
		}
		if a.BCa.Low > a.BCa.High || a.Percentile.Low > a.Percentile.High {
			t.Fatalf("limits crossed: %v", a)
		}
	})
}

func TestBootstrapOnHostileInput(t *testing.T) {
	constant := func([]float64) (float64, error) { return 7, nil }
	_, err := Bootstrap(1, constant, DefaultBootstrap)
	require.ErrorIs(t, err, ErrNoData)
	for _, o := range []BootstrapOptions{{}, {Replicates: 100, Level: math.NaN()}, {Replicates: 5, Level: 0.9}} {
		_, err = Bootstrap(5, constant, o)
		require.ErrorIs(t, err, ErrBadInput)
	}
	_, err = Bootstrap(5, func([]float64) (float64, error) { return math.NaN(), nil }, DefaultBootstrap)
	require.ErrorIs(t, err, ErrNoAnswer)
	b, err := Bootstrap(40, constant, DefaultBootstrap)
	require.NoError(t, err)
	require.Equal(t, Interval{7, 7}, b.BCa)
	require.Equal(t, "no-bca", b.Warnings[0].Code)
	broken := errors.New("broken")
	// Fails whenever the first of five units is absent: about a third of resamples.
	b, err = Bootstrap(5, func(w []float64) (float64, error) {
		if w[0] == 0 {
			return 0, broken
		}
		return w[1], nil
	}, DefaultBootstrap)
	require.NoError(t, err)
	require.InDelta(t, 2000*math.Pow(0.8, 5), b.Failed, 100)
	require.Len(t, b.Values, 2000-b.Failed)
	require.Equal(t, b.Percentile, b.BCa)
	// Two units: half of the resamples lack one of them, and too many fail.
	_, err = Bootstrap(5, func(w []float64) (float64, error) {
		if w[0] == 0 || w[1] == 0 {
			return 0, broken
		}
		return 1, nil
	}, DefaultBootstrap)
	require.ErrorIs(t, err, ErrNoAnswer)
	few, err := Bootstrap(40, func(w []float64) (float64, error) { return w[0] + 2*w[1], nil }, BootstrapOptions{Replicates: 30, Seed: 1, Level: 0.99})
	require.NoError(t, err)
	require.Equal(t, "few-replicates", few.Warnings[len(few.Warnings)-1].Code)
}

// Whole clusters, not rows, must be drawn: 60 clusters of 10 equal rows have the SE of
// 60 values, about three times that of 600.
func TestBootstrapDrawsClusters(t *testing.T) {
	rng := rand.New(rand.NewPCG(2, 0))
	x := make([]float64, 60)
	for i := range x {
		x[i] = rng.NormFloat64()
	}
	_, squares := meanAndSquares(x)
	b, err := Bootstrap(len(x), func(w []float64) (float64, error) {
		sum, rows := 0.0, 0.0
		for i, v := range x {
			sum, rows = sum+w[i]*10*v, rows+w[i]*10
		}
		return sum / rows, nil
	}, DefaultBootstrap)
	require.NoError(t, err)
	require.InEpsilon(t, math.Sqrt(squares)/60, b.SE, 0.05)
	require.Empty(t, b.Warnings)
}
