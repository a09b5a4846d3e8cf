package stats

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

type powerReference struct {
	Proportions, Detect, Rates, Hazards columns
}

func loadPower(t *testing.T) powerReference {
	t.Helper()
	var ref powerReference
	loadReference(t, "power_size", &ref)
	return ref
}

// Reference: R power.prop.test and root searches, power_size.R.
func TestSampleSizesAgreeWithR(t *testing.T) {
	ref := loadPower(t)
	ref.Proportions.rows(t, func(i int, at func(string) float64) {
		d := DefaultPowerDesign
		d.Power, d.Alpha = at("power"), at("alpha")
		got, err := SizeTwoProportions(at("p1"), at("p2"), d)
		require.NoError(t, err)
		require.True(t, relative(got.Exact, at("n"), 1e-8), "row %d: %g, want %g", i, got.Exact, at("n"))
	})
	ref.Detect.rows(t, func(i int, at func(string) float64) {
		got, err := DetectableProportion(at("p1"), int64(at("n")), DefaultPowerDesign)
		require.NoError(t, err)
		require.True(t, relative(got.Above, at("p2"), 1e-8), "row %d: %g, want %g", i, got.Above, at("p2"))
	})
	ref.Rates.rows(t, func(i int, at func(string) float64) {
		d := DefaultPowerDesign
		d.Allocation = at("allocation")
		got, err := SizeTwoRates(RatePair{at("first"), at("second"), at("dispersion")}, d)
		require.NoError(t, err)
		require.True(t, relative(got.Exact, at("n"), 1e-8), "row %d: %g, want %g", i, got.Exact, at("n"))
	})
	ref.Hazards.rows(t, func(i int, at func(string) float64) {
		d := DefaultPowerDesign
		d.Allocation = at("allocation")
		events, err := EventsForHazardRatio(at("ratio"), d)
		require.NoError(t, err)
		got, err := SizeTimeToEvent(at("ratio"), at("risk"), d)
		require.NoError(t, err)
		require.True(t, relative(events, at("events"), 1e-10) && relative(got.Exact, at("n"), 1e-10), "row %d", i)
	})
}

// Check values in common use, no source: visit means 2 against 3 need 40 a group
// (Poisson) and 60 with overdispersion 1.5, which is 1.5 times the rounded 40. For 5
// against 10 % and 10 against 20 % they are 432 and 196, from the unpooled variance;
// the pooled test used here needs a few more. A hazard ratio of 2 needs 66 events
// (Schoenfeld's formula, from memory of its tables).
func TestSampleSizesInCommonUse(t *testing.T) {
	for dispersion, want := range map[float64]int64{1: 40, 1.5: 59} {
		got, err := SizeTwoRates(RatePair{2, 3, dispersion}, DefaultPowerDesign)
		require.NoError(t, err)
		require.Equal(t, want, got.First)
		require.Equal(t, want, got.Second)
	}
	for _, c := range []struct {
		a, b     float64
		unpooled float64
		want     int64
	}{{0.05, 0.1, 432, 435}, {0.1, 0.2, 196, 199}} {
		got, err := SizeTwoProportions(c.a, c.b, DefaultPowerDesign)
		require.NoError(t, err)
		require.Equal(t, c.want, got.First)
		za, zp := DefaultPowerDesign.quantiles()
		_, apart := proportionSDs(c.a, c.b, 1)
		require.InDelta(t, c.unpooled, math.Pow((za+zp)*apart/(c.a-c.b), 2), 0.5)
	}
	events, err := EventsForHazardRatio(2, DefaultPowerDesign)
	require.NoError(t, err)
	require.Equal(t, int64(66), wholeUnits(events))
}

// What a size finds, the size for what it finds must be.
func TestDetectableInvertsSize(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := PowerDesign{
			Alpha: rapid.Float64Range(0.001, 0.2).Draw(t, "alpha"), Power: rapid.Float64Range(0.5, 0.99).Draw(t, "power"),
			Allocation: math.Exp(rapid.Float64Range(-2, 2).Draw(t, "log allocation")), Inflation: rapid.Float64Range(1, 4).Draw(t, "inflation"),
		}
		n := rapid.Int64Range(5, 100000).Draw(t, "n")
		p := rapid.Float64Range(0.01, 0.99).Draw(t, "p")
		mean, dispersion := rapid.Float64Range(0, 9).Draw(t, "mean"), rapid.Float64Range(0.5, 4).Draw(t, "dispersion")
		check := func(about string, found Detectable, err error, size func(v float64) (SampleSize, error)) {
			if err != nil || math.IsNaN(found.Below) || math.IsNaN(found.Above) {
				t.Fatal(about, found, err)
			}
			for _, v := range []float64{found.Below, found.Above} {
				if math.IsInf(v, 0) {
					continue
				}
				if s, err := size(v); err != nil || !relative(s.Exact, float64(n), 1e-6) {
					t.Fatalf("%s: %d units find %g, which needs %g (%v)", about, n, v, s.Exact, err)
				}
			}
		}
		found, err := DetectableRate(mean, dispersion, n, d)
		check("rate", found, err, func(v float64) (SampleSize, error) { return SizeTwoRates(RatePair{mean, v, dispersion}, d) })
		found, err = DetectableProportion(p, n, d)
		check("proportion", found, err, func(v float64) (SampleSize, error) { return SizeTwoProportions(p, v, d) })
		found, err = DetectableHazardRatio(p, n, d)
		check("hazard", found, err, func(v float64) (SampleSize, error) { return SizeTimeToEvent(v, p, d) })
	})
}

func TestPowerRefusesHostileInput(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	d := DefaultPowerDesign
	for _, bad := range []PowerDesign{{}, {0.05, 0.8, 0, 1}, {0.05, 0.8, 1, 0.5}, {nan, 0.8, 1, 1}, {0.05, nan, 1, 1}, {0.05, 0.8, nan, 1}, {0.05, 0.8, 1, inf}, {0.05, 0.01, 1, 1}} {
		_, err := SizeTwoRates(RatePair{2, 3, 1}, bad)
		require.ErrorIs(t, err, ErrBadInput, "%v", bad)
		_, err = SizeTwoProportions(0.1, 0.2, bad)
		require.ErrorIs(t, err, ErrBadInput, "%v", bad)
		_, err = SizeTimeToEvent(2, 0.1, bad)
		require.ErrorIs(t, err, ErrBadInput, "%v", bad)
		_, err = DetectableRate(2, 1, 50, bad)
		require.ErrorIs(t, err, ErrBadInput, "%v", bad)
		_, err = DetectableProportion(0.2, 50, bad)
		require.ErrorIs(t, err, ErrBadInput, "%v", bad)
		_, err = DetectableHazardRatio(0.2, 50, bad)
		require.ErrorIs(t, err, ErrBadInput, "%v", bad)
	}
	for _, p := range []RatePair{{2, 2, 1}, {nan, 1, 1}, {1, inf, 1}, {1, 2, 0}, {-1, 2, 1}} {
		_, err := SizeTwoRates(p, d)
		require.ErrorIs(t, err, ErrBadInput, "%v", p)
	}
	for _, p := range [][2]float64{{0.1, 0.1}, {nan, 0.1}, {0.1, 1.1}} {
		_, err := SizeTwoProportions(p[0], p[1], d)
		require.ErrorIs(t, err, ErrBadInput, "%v", p)
	}
	for _, p := range [][2]float64{{1, 0.1}, {nan, 0.1}, {0, 0.1}, {2, 0}, {2, 1}, {2, nan}} {
		_, err := SizeTimeToEvent(p[0], p[1], d)
		require.ErrorIs(t, err, ErrBadInput, "%v", p)
	}
	_, err := SizeTwoProportions(0.1, 0.1+1e-12, d)
	require.ErrorIs(t, err, ErrNoAnswer)
	_, err = DetectableRate(2, 1, 0, d)
	require.ErrorIs(t, err, ErrBadInput)
	none, err := DetectableProportion(0, 3, d)
	require.NoError(t, err)
	require.Equal(t, math.Inf(-1), none.Below)
	few, err := SizeTwoProportions(0, 0.9, d)
	require.NoError(t, err)
	require.Equal(t, "few-expected", few.Warnings[0].Code)
}
