package stats

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// Worked values by formula (interpolated exact binomial limits, target 0.30), to
// the three digits given.
func TestShareFunnelWorkedLimits(t *testing.T) {
	f, err := ShareFunnel([]UnitShare{{3, 10}, {6, 20}, {12, 40}, {24, 80}}, FunnelOptions{Target: 0.3})
	require.NoError(t, err)
	near := []Interval{{0, .561}, {.081, .487}, {.151, .435}, {.195, .397}}
	far := []Interval{{0, .741}, {.001, .614}, {.080, .523}, {.143, .459}}
	for i, p := range f.Points {
		for _, c := range [][2]float64{{p.Near.Low, near[i].Low}, {p.Near.High, near[i].High}, {p.Far.Low, far[i].Low}, {p.Far.High, far[i].High}} {
			require.InDelta(t, c[1], c[0], 0.0005+1e-9, "n = %g", p.Size)
		}
	}
}

// slowInterpolated adds probabilities one by one, as plainly as the definition.
func slowInterpolated(prob func(k int) float64, p float64) (interpolated, exact float64) {
	var below float64
	for k := 0; ; k++ {
		at := below + prob(k)
		if at > p {
			return float64(k) - (at-p)/(at-below), float64(k)
		}
		below = at
	}
}

func poissonProb(mean float64) func(int) float64 {
	return func(k int) float64 {
		l, _ := math.Lgamma(float64(k + 1))
		return math.Exp(float64(k)*math.Log(mean) - mean - l)
	}
}

func TestInterpolatedLimitsAgainstPlainSums(t *testing.T) {
	f, err := RatioFunnel([]UnitCount{{1, 1}}, FunnelOptions{Target: 1.25})
	require.NoError(t, err)
	for _, e := range []float64{0.02, 0.4, 1, 3.7, 12, 55.5} {
		for _, level := range []float64{0.8, 0.95, 0.998} {
			got, exact := f.Limits(e, level), f.ExactLimits(e, level)
			lo, lox := slowInterpolated(poissonProb(1.25*e), (1-level)/2)
			hi, hix := slowInterpolated(poissonProb(1.25*e), (1+level)/2)
			require.True(t, almost(got.Low, max(0, lo/e), 1e-9) && almost(got.High, max(0, hi/e), 1e-8), "E = %g: %v, want %g to %g", e, got, lo/e, hi/e)
			require.True(t, got.Low <= exact.Low && exact.Low < got.Low+1/e && got.High <= exact.High, "E = %g: %v %v", e, got, exact)
			require.True(t, almost(exact.Low, lox/e, 1e-12) && almost(exact.High, hix/e, 1e-12), "E = %g: exact %v", e, exact)
		}
	}
}

func TestFunnelSpreadByHand(t *testing.T) {
	// z = (O-E)/sqrt(E) = -1, 0, 0, 1, 4; type-7 tenths are -0.6 and 2.8.
	units := []UnitCount{{90, 100}, {100, 100}, {100, 100}, {110, 100}, {140, 100}}
	opt := FunnelOptions{Target: 1, Winsor: 0.1, Spread: Multiplicative}
	f, err := RatioFunnel(units, opt)
	require.NoError(t, err)
	phi := (0.36 + 1 + 7.84) / 5
	require.True(t, almost(f.Phi, phi, 1e-12), "phi %g", f.Phi)
	require.True(t, almost(f.Tau2, (5*phi-4)/400, 1e-12), "tau2 %g", f.Tau2)
	require.Equal(t, FunnelFlag(1), f.Points[4].Flag, "%+v", f.Points[4])

	opt.Rescale = true
	g, err := RatioFunnel(units, opt)
	require.NoError(t, err)
	require.InDelta(t, phi/0.6787, g.Phi, 1e-3) // 0.8 - 2(1.2816)(0.1755) + 0.2(1.6424)

	plain, err := RatioFunnel(units, FunnelOptions{Target: 1})
	require.NoError(t, err)
	require.Equal(t, FunnelFlag(2), plain.Points[4].Flag)
	require.Equal(t, FunnelFlag(0), plain.Points[0].Flag)
}

func TestFunnelFlagsAtTheLimit(t *testing.T) {
	p := FunnelPoint{Size: 1, Near: Interval{0.5, 1.5}, Far: Interval{0.2, 2}}
	up := func(x float64) float64 { return math.Nextafter(x, 9) }
	down := func(x float64) float64 { return math.Nextafter(x, -9) }
	for _, c := range []struct {
		v    float64
		want FunnelFlag
	}{{1.5, 0}, {up(1.5), 1}, {2, 1}, {up(2), 2}, {0.5, 0}, {down(0.5), -1}, {0.2, -1}, {down(0.2), -2}} {
		p.Value = c.v
		require.Equal(t, c.want, funnelFlag(p), "%g", c.v)
	}
}

func TestFunnelHostile(t *testing.T) {
	nan := math.NaN()
	for name, c := range map[string]struct {
		units []UnitCount
		opt   FunnelOptions
		want  error
	}{
		"none":           {nil, DefaultFunnel(), ErrNoData},
		"NaN":            {[]UnitCount{{nan, 1}}, DefaultFunnel(), ErrBadInput},
		"infinite":       {[]UnitCount{{1, math.Inf(1)}}, DefaultFunnel(), ErrBadInput},
		"events from 0":  {[]UnitCount{{1, 0}}, DefaultFunnel(), ErrBadInput},
		"all zero":       {[]UnitCount{{0, 3}, {0, 1}}, DefaultFunnel(), ErrNoData},
		"target NaN":     {[]UnitCount{{1, 1}}, FunnelOptions{Target: nan}, ErrBadInput},
		"winsor a half":  {[]UnitCount{{1, 1}}, FunnelOptions{Winsor: 0.5}, ErrBadInput},
		"unknown spread": {[]UnitCount{{1, 1}}, FunnelOptions{Spread: 7}, ErrBadInput},
	} {
		_, err := RatioFunnel(c.units, c.opt)
		require.ErrorIs(t, err, c.want, name)
	}
	_, err := ShareFunnel([]UnitShare{{3, 3}}, DefaultFunnel())
	require.ErrorIs(t, err, ErrNoData, "all events")
	_, err = ShareFunnel([]UnitShare{{4, 3}}, DefaultFunnel())
	require.ErrorIs(t, err, ErrBadInput)

	one, err := RatioFunnel([]UnitCount{{5, 4}, {0, 0}}, FunnelOptions{Spread: Additive, Winsor: 0.1})
	require.NoError(t, err)
	require.Equal(t, "few-units", one.Warnings[0].Code)
	require.Equal(t, Interval{0, math.Inf(1)}, one.Points[1].Far)
	require.Zero(t, one.Tau2)

	huge, err := RatioFunnel([]UnitCount{{1e8, 1e8}}, FunnelOptions{Target: 1})
	require.NoError(t, err)
	require.True(t, almost(huge.Points[0].Near.High-1, 1.959964e-4, 1e-8), "%v", huge.Points[0].Near)
}

func TestFunnelProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		units := drawUnits(t)
		opt := DefaultFunnel()
		opt.Spread = Overdispersion(rapid.IntRange(0, 2).Draw(t, "spread"))
		f, err := RatioFunnel(units, opt)
		if err != nil {
			require.ErrorIs(t, err, ErrNoData)
			return
		}
		g, err := RatioFunnel(backwards(units), opt)
		require.NoError(t, err)
		for i, p := range f.Points {
			q := g.Points[len(units)-1-i]
			require.True(t, almost(p.Near.High, q.Near.High, 1e-9) && almost(p.Far.Low, q.Far.Low, 1e-9) && almost(p.Z, q.Z, 1e-9), "order of units matters: %+v %+v", p, q)
			require.True(t, p.Far.Low <= p.Near.Low && p.Near.High <= p.Far.High)
		}
	})
}

func TestFunnelLimitsWidenAsSizeFalls(t *testing.T) {
	f, err := ShareFunnel([]UnitShare{{3, 10}}, FunnelOptions{})
	require.NoError(t, err)
	g, err := RatioFunnel([]UnitCount{{3, 10}}, FunnelOptions{Target: 1})
	require.NoError(t, err)
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.Float64Range(12, 1e5).Draw(t, "n")
		for _, level := range []float64{funnelNear, funnelFar} {
			for _, h := range []Funnel{f, g} {
				small, big := h.Limits(n/4, level), h.Limits(n, level)
				require.Greater(t, small.High-small.Low, big.High-big.Low)
			}
		}
	})
}

// With next to nothing expected, having no events must not stand out.
func TestFunnelTinyExpected(t *testing.T) {
	f, err := RatioFunnel([]UnitCount{{0, 1e-5}, {10, 10}}, FunnelOptions{Target: 1})
	require.NoError(t, err)
	require.Equal(t, FunnelFlag(0), f.Points[0].Flag)
	require.Equal(t, Interval{0, 0}, f.Points[0].Far)
}

func drawUnits(t *rapid.T) []UnitCount {
	return rapid.SliceOfN(rapid.Custom(func(t *rapid.T) UnitCount {
		return UnitCount{float64(rapid.IntRange(0, 60).Draw(t, "o")), float64(rapid.IntRange(1, 400).Draw(t, "e")) / 10}
	}), 1, 25).Draw(t, "units")
}

func backwards[T any](s []T) []T {
	out := make([]T, len(s))
	for i, v := range s {
		out[len(s)-1-i] = v
	}
	return out
}
