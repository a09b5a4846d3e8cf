package stats

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

type multipleReference struct {
	P, BH, Holm                 [][]float64
	Ratios, Ratio, Hazard, Odds []float64
	MeanDifference              []float64 `json:"mean_difference"`
}

// Reference: R p.adjust, measure_multiple.R.
func TestAdjustedPAgreeWithR(t *testing.T) {
	var ref multipleReference
	loadReference(t, "measure_multiple", &ref)
	require.NotEmpty(t, ref.P)
	for i, p := range ref.P {
		q, err := BenjaminiHochberg(p)
		require.NoError(t, err)
		requireVector(t, ref.BH[i], q, 1e-12, "BH")
		h, err := Holm(p)
		require.NoError(t, err)
		requireVector(t, ref.Holm[i], h, 1e-12, "Holm")
	}
}

// The 15 P values of Benjamini & Hochberg 1995, section 3 (from memory): at 5 % their
// procedure calls four, and Bonferroni's three; so does Holm's.
func TestAdjustedPOfPublishedExample(t *testing.T) {
	p := []float64{.0001, .0004, .0019, .0095, .0201, .0278, .0298, .0344, .0459, .3240, .4262, .5719, .6528, .7590, 1}
	called := func(adjust func([]float64) ([]float64, error)) (n int) {
		v, err := adjust(p)
		require.NoError(t, err)
		for _, v := range v {
			if v <= 0.05 {
				n++
			}
		}
		return n
	}
	require.Equal(t, 4, called(BenjaminiHochberg))
	require.Equal(t, 3, called(Holm))
}

// slowSteps calls by the procedures' own words at level alpha.
func slowSteps(p []float64, alpha float64) (bh, holm []bool) {
	bh, holm = make([]bool, len(p)), make([]bool, len(p))
	m := float64(len(p))
	rank := func(v float64) (n float64) {
		for _, u := range p {
			if u <= v {
				n++
			}
		}
		return n
	}
	for i, v := range p {
		for _, u := range p {
			bh[i] = bh[i] || u >= v && u <= alpha*rank(u)/m
		}
		holm[i] = true
		for _, u := range p {
			smaller := 0.0
			for _, w := range p {
				if w < u {
					smaller++
				}
			}
			// The first of tied values faces the strictest step.
			if u <= v && u > alpha/(m-smaller) {
				holm[i] = false
			}
		}
	}
	return bh, holm
}

func TestAdjustedPAgainstTheProcedures(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := rapid.SliceOfN(rapid.Custom(func(t *rapid.T) float64 {
			return float64(rapid.IntRange(0, 1000).Draw(t, "p")) / 1000
		}), 0, 12).Draw(t, "family")
		alpha := rapid.Float64Range(0.0123, 0.4).Draw(t, "alpha")
		bh, holm := slowSteps(p, alpha)
		q, err1 := BenjaminiHochberg(p)
		h, err2 := Holm(p)
		if err1 != nil || err2 != nil {
			t.Fatal(err1, err2)
		}
		for i := range p {
			if near(q[i], alpha) || near(h[i], alpha) {
				continue
			}
			if (q[i] <= alpha) != bh[i] || (h[i] <= alpha) != holm[i] || q[i] > h[i]+1e-12 || q[i] < p[i] {
				t.Fatalf("%v at %g: BH %v %v, Holm %v %v", p, alpha, q, bh, h, holm)
			}
		}
	})
}

func near(a, b float64) bool { return math.Abs(a-b) < 1e-9 }

func TestAdjustedPRefuseHostileInput(t *testing.T) {
	for _, adjust := range []func([]float64) ([]float64, error){BenjaminiHochberg, Holm} {
		for _, bad := range []float64{math.NaN(), -0.1, 1.1, math.Inf(1)} {
			_, err := adjust([]float64{0.5, bad})
			require.ErrorIs(t, err, ErrBadInput)
		}
		got, err := adjust(nil)
		require.NoError(t, err)
		require.Empty(t, got)
	}
}

// Reference: a root search on the bounding factor in R, measure_multiple.R.
func TestEValueAgreesWithR(t *testing.T) {
	var ref multipleReference
	loadReference(t, "measure_multiple", &ref)
	require.NotEmpty(t, ref.Ratios)
	wide := Interval{0, math.Inf(1)}
	for i, v := range ref.Ratios {
		for about, c := range map[string]struct {
			compute func(float64, Interval) (EValue, error)
			want    float64
		}{"ratio": {EValueRatio, ref.Ratio[i]}, "hazard": {EValueHazardRatio, ref.Hazard[i]}, "odds": {EValueOddsRatio, ref.Odds[i]}} {
			e, err := c.compute(v, wide)
			require.NoError(t, err)
			// The root is a double one near a ratio of 1, which costs the search digits.
			require.True(t, relative(e.Estimate, c.want, 1e-8), "%s of %g: %g, want %g", about, v, e.Estimate, c.want)
			require.Equal(t, 1.0, e.Limit)
		}
	}
	for i, d := range []float64{-1, -0.2, 0.5} {
		e, err := EValueMeanDifference(d, 0.01)
		require.NoError(t, err)
		require.True(t, relative(e.Estimate, ref.MeanDifference[i], 1e-8))
		require.Greater(t, e.Limit, 1.0)
	}
}

// VanderWeele & Ding 2017 as remembered: RR 3.9 (1.8 to 8.7) has E-values 7.26 and 3.0;
// RR 0.80 (0.71 to 0.91) has 1.81 and 1.43.
func TestEValueAgreesWithPublishedExamples(t *testing.T) {
	e, err := EValueRatio(3.9, Interval{1.8, 8.7})
	require.NoError(t, err)
	require.InDelta(t, 7.26, e.Estimate, 0.005)
	require.InDelta(t, 3.0, e.Limit, 0.005)
	e, err = EValueRatio(0.80, Interval{0.71, 0.91})
	require.NoError(t, err)
	require.InDelta(t, 1.81, e.Estimate, 0.005)
	require.InDelta(t, 1.43, e.Limit, 0.005)
	d, err := EValueDifference(0.1, 0.29, Interval{0.08, 0.77})
	require.NoError(t, err)
	require.InDelta(t, 7.26, d.Estimate, 0.005)
	require.InDelta(t, 3.0, d.Limit, 0.005)
	require.Len(t, d.Warnings, 1)
}

func TestEValueProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rr := math.Exp(rapid.Float64Range(-3, 3).Draw(t, "log ratio"))
		half := math.Exp(rapid.Float64Range(0, 2).Draw(t, "log half width"))
		for _, f := range []func(float64, Interval) (EValue, error){EValueRatio, EValueHazardRatio, EValueOddsRatio} {
			e, err := f(rr, Interval{rr / half, rr * half})
			m, err2 := f(1/rr, Interval{1 / rr / half, half / rr})
			if err != nil || err2 != nil || !almost(e.Estimate, m.Estimate, 1e-6) || e.Limit > e.Estimate+1e-9 || e.Limit < 1 {
				t.Fatalf("%g: %v and mirrored %v (%v %v)", rr, e, m, err, err2)
			}
			if straddles := rr/half <= 1 && rr*half >= 1; straddles != (e.Limit == 1) {
				t.Fatalf("limit %g", e.Limit)
			}
		}
	})
}

func TestEValueRefusesHostileInput(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	for _, bad := range []struct{ v, low, high float64 }{{nan, 0, 1}, {0, 0, 1}, {-1, -2, 1}, {inf, 1, inf}, {2, nan, 3}, {2, 1, nan}, {2, 3, 4}, {2, 0.5, 1.5}} {
		_, err := EValueRatio(bad.v, Interval{bad.low, bad.high})
		require.ErrorIs(t, err, ErrBadInput, "%v", bad)
	}
	_, err := EValueDifference(0, 1, Interval{0, 2})
	require.ErrorIs(t, err, ErrBadInput)
	_, err = EValueDifference(0.1, -0.1, Interval{-0.2, 0})
	require.ErrorIs(t, err, ErrBadInput)
	_, err = EValueMeanDifference(nan, 1)
	require.ErrorIs(t, err, ErrBadInput)
}
