package stats

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mathext"
	"pgregory.net/rapid"
)

type lipReference struct {
	O, E                                   []float64
	Mean, Dispersion, FixedDispersion      float64
	DispersionLow, DispersionHigh          float64
	DispersedFit                           [2]float64
	Shrunk, Low, High, RatioLow, RatioHigh []float64
	Phi, PhiWinsorised, Tau2               float64
}

func (l lipReference) units() []UnitCount {
	units := make([]UnitCount, len(l.O))
	for i := range l.O {
		units[i] = UnitCount{l.O[i], l.E[i]}
	}
	return units
}

// Lip cancer in 56 Scottish districts: MASS::glm.nb, dnbinom and poisson.test in R.
func TestShrinkRatiosLipCancerAgainstR(t *testing.T) {
	var ref lipReference
	loadReference(t, "compare_lip", &ref)
	s, err := ShrinkRatios(ref.units(), ShrinkOptions{Level: 0.95})
	require.NoError(t, err)
	require.Empty(t, s.Warnings)
	// glm.nb stops at its own tolerance of about 1e-8 in the mean.
	require.True(t, almost(s.Mean, ref.Mean, 1e-7), "%.12g", s.Mean)
	require.True(t, almost(s.Dispersion, ref.Dispersion, 1e-7), "%.12g", s.Dispersion)
	require.True(t, almost(s.DispersionLimits.Low, ref.DispersionLow, 1e-6), "%.12g", s.DispersionLimits.Low)
	require.True(t, almost(s.DispersionLimits.High, ref.DispersionHigh, 1e-6), "%.12g", s.DispersionLimits.High)
	for i, u := range s.Units {
		require.True(t, almost(u.Shrunk, ref.Shrunk[i], 1e-7) && almost(u.Limits.Low, ref.Low[i], 1e-7) && almost(u.Limits.High, ref.High[i], 1e-7), "district %d: %+v", i, u)
	}
	// Clayton & Kaldor 1987 report the gamma law's shape 1.88 and rate 1.32 for these
	// data; both figures are from memory.
	require.InDelta(t, 1.88, 1/s.Dispersion, 0.005)
	require.InDelta(t, 1.32, 1/(s.Dispersion*s.Mean), 0.005)

	fixed, err := ShrinkRatios(ref.units(), ShrinkOptions{Level: 0.95, FixMean: true, Mean: 1})
	require.NoError(t, err)
	require.Equal(t, 1.0, fixed.Mean)
	require.True(t, almost(fixed.Dispersion, ref.FixedDispersion, 1e-6), "%.12g", fixed.Dispersion)

	thin, err := Disperse(ref.units(), 1.7)
	require.NoError(t, err)
	s, err = ShrinkRatios(thin, ShrinkOptions{Level: 0.95})
	require.NoError(t, err)
	require.True(t, almost(s.Mean, ref.DispersedFit[0], 1e-6) && almost(s.Dispersion, ref.DispersedFit[1], 1e-6), "%g %g", s.Mean, s.Dispersion)
}

func TestRatiosAndFunnelLipCancerAgainstR(t *testing.T) {
	var ref lipReference
	loadReference(t, "compare_lip", &ref)
	ratios, err := IndirectRatios(ref.units(), 0.95)
	require.NoError(t, err)
	for i, r := range ratios {
		require.True(t, relative(r.Limits.Low, ref.RatioLow[i], 1e-8) && relative(r.Limits.High, ref.RatioHigh[i], 1e-8), "district %d: %+v", i, r)
	}
	f, err := RatioFunnel(ref.units(), FunnelOptions{Spread: Additive})
	require.NoError(t, err)
	require.True(t, almost(f.Phi, ref.Phi, 1e-10), "%g", f.Phi)
	// DerSimonian-Laird in metafor with the same variances.
	require.True(t, almost(f.Tau2, ref.Tau2, 1e-9), "%g", f.Tau2)
	f, err = RatioFunnel(ref.units(), FunnelOptions{Winsor: 0.1})
	require.NoError(t, err)
	require.True(t, almost(f.Phi, ref.PhiWinsorised, 1e-10), "%g", f.Phi)
}

func TestShrinkSharesAgainstR(t *testing.T) {
	var ref struct {
		N, X                        []float64
		Mean, Dispersion, FixedHalf float64
		Shrunk, Low, High           []float64
	}
	loadReference(t, "compare_beta", &ref)
	units := make([]UnitShare, len(ref.N))
	for i := range units {
		units[i] = UnitShare{ref.X[i], ref.N[i]}
	}
	s, err := ShrinkShares(units, ShrinkOptions{Level: 0.95})
	require.NoError(t, err)
	require.True(t, almost(s.Mean, ref.Mean, 1e-6), "%.12g", s.Mean)
	require.True(t, almost(s.Dispersion, ref.Dispersion, 2e-6), "%.12g", s.Dispersion)
	for i, u := range s.Units {
		require.True(t, almost(u.Shrunk, ref.Shrunk[i], 1e-6) && almost(u.Limits.Low, ref.Low[i], 1e-6) && almost(u.Limits.High, ref.High[i], 1e-6), "litter %d: %+v", i, u)
	}
	half, err := ShrinkShares(units, ShrinkOptions{Level: 0.95, FixMean: true, Mean: 0.5})
	require.NoError(t, err)
	require.True(t, almost(half.Dispersion, ref.FixedHalf, 1e-6), "%.12g", half.Dispersion)
}

// The sums continued to real n must join the plain sums, and obey f(n+1) - f(n).
func TestRisingSums(t *testing.T) {
	for _, a := range []float64{0.03, 1, 0.7} {
		for _, d := range []float64{0, 1e-7, 1e-5, 3e-4, 0.02, 1, 40} {
			for _, n := range []float64{0, 0.4, 3.7, 57, 255.5, 256, 4000} {
				at := a + n*d
				require.True(t, almost(logRising(a, d, n+1)-logRising(a, d, n), math.Log(at), 1e-7), "log: %g %g %g", a, d, n)
				require.True(t, almost(logRisingByA(a, d, n+1)-logRisingByA(a, d, n), 1/at, 1e-7), "by a: %g %g %g", a, d, n)
				require.True(t, almost(logRisingByD(a, d, n+1)-logRisingByD(a, d, n), n/at, 2e-6), "by d: %g %g %g", a, d, n)
			}
		}
	}
}

// What is shared between units must not change their sums, and the slopes must be those of
// the sums. The trigamma function is held to pi^2/6 at 1 and to Hurwitz's zeta function.
func TestRisingSumsTogether(t *testing.T) {
	require.InEpsilon(t, math.Pi*math.Pi/6, trigamma(1), 1e-10)
	for _, x := range []float64{1e-3, 0.2, 3, 7.99, 8, 40, 1e7} {
		require.InEpsilon(t, mathext.Zeta(2, x), trigamma(x), 1e-10, "at %g", x)
	}
	for _, a := range []float64{0.03, 1, 0.7} {
		for _, d := range []float64{1e-7, 3e-4, 0.02, 1, 40} {
			r := newRising(a, d)
			for _, n := range []float64{0, 0.4, 57, 255.5, 256, 4000} {
				value, slope := r.byA(n)
				require.True(t, almost(value, logRisingByA(a, d, n), 1e-12), "%g %g %g", a, d, n)
				h := 1e-4 * a
				by := (logRisingByA(a+h, d, n) - logRisingByA(a-h, d, n)) / (2 * h)
				require.True(t, almost(slope, by, 1e-6), "slope at %g %g %g: %g, by differences %g", a, d, n, slope, by)
			}
		}
	}
}

// The score must be the slope of the log-likelihood, near d = 0 and far from it,
// with whole counts and with counts divided by a dispersion.
func TestShrinkScoresAreSlopes(t *testing.T) {
	whole := []UnitCount{{3, 4}, {0, 2}, {300, 280}, {9, 5}}
	thin, err := Disperse(whole, 1.7)
	require.NoError(t, err)
	same, err := Disperse(whole, 0.4)
	require.NoError(t, err)
	require.Equal(t, whole, same, "a dispersion below 1 must not sharpen")
	shares := []UnitShare{{3, 14}, {0.6, 2.2}, {100, 300}, {9, 25}}
	for _, m := range []shrinkModel{gammaPoisson{units: whole}, gammaPoisson{units: thin}, &betaBinomial{units: shares}} {
		for _, d := range []float64{1e-4, 7e-4, 0.01, 0.2, 3} {
			h := 1e-3 * d
			slope := (m.logLik(0.4, d+h) - m.logLik(0.4, d-h)) / (2 * h)
			require.True(t, almost(m.score(0.4, d), slope, 1e-4), "%T at %g: %g, slope %g", m, d, m.score(0.4, d), slope)
		}
		require.True(t, relative(m.score(0.4, 1e-9), m.score(0.4, 0), 1e-5), "%T joins d = 0", m)
	}
	for _, x := range []float64{1e-3, math.Nextafter(1e-3, 0)} {
		require.True(t, almost(logExcess(x), 0.5-x*2/3+0.75*x*x-0.8*x*x*x, 1e-9), "%g", x)
	}
}

func TestShrinkNoSpread(t *testing.T) {
	units := []UnitCount{{10, 10}, {5, 5}, {20, 20}, {0, 0}}
	s, err := ShrinkRatios(units, ShrinkOptions{Level: 0.95})
	require.NoError(t, err)
	require.Zero(t, s.Dispersion)
	require.Equal(t, []string{"no-spread", "few-units"}, []string{s.Warnings[0].Code, s.Warnings[1].Code})
	require.Greater(t, s.DispersionLimits.High, 0.0)
	for _, u := range s.Units {
		require.Equal(t, 1.0, u.Shrunk)
		require.Zero(t, u.Weight)
		require.True(t, u.Limits.Low < 1 && u.Limits.High > 1, "%+v", u)
	}
	shares, err := ShrinkShares([]UnitShare{{3, 10}, {6, 20}, {0, 0}}, ShrinkOptions{Level: 0.95})
	require.NoError(t, err)
	require.Zero(t, shares.Dispersion)
	require.True(t, almost(shares.Units[2].Shrunk, 0.3, 1e-12))
}

func TestShrinkHostile(t *testing.T) {
	ok := ShrinkOptions{Level: 0.95}
	for name, c := range map[string]struct {
		units []UnitCount
		opt   ShrinkOptions
		want  error
	}{
		"none":         {nil, ok, ErrNoData},
		"all zero":     {[]UnitCount{{0, 1}, {0, 4}}, ok, ErrNoData},
		"NaN":          {[]UnitCount{{1, math.NaN()}}, ok, ErrBadInput},
		"negative":     {[]UnitCount{{-1, 1}}, ok, ErrBadInput},
		"from nothing": {[]UnitCount{{1, 0}}, ok, ErrBadInput},
		"level 1":      {[]UnitCount{{1, 1}}, ShrinkOptions{Level: 1}, ErrBadInput},
		"level NaN":    {[]UnitCount{{1, 1}}, ShrinkOptions{Level: math.NaN()}, ErrBadInput},
		"mean 0":       {[]UnitCount{{1, 1}}, ShrinkOptions{Level: 0.9, FixMean: true}, ErrBadInput},
	} {
		_, err := ShrinkRatios(c.units, c.opt)
		require.ErrorIs(t, err, c.want, name)
	}
	for name, c := range map[string]struct {
		units []UnitShare
		want  error
	}{
		"all events": {[]UnitShare{{3, 3}, {2, 2}}, ErrNoData},
		"no trials":  {[]UnitShare{{0, 0}}, ErrNoData},
		"too many":   {[]UnitShare{{4, 3}}, ErrBadInput},
	} {
		_, err := ShrinkShares(c.units, ok)
		require.ErrorIs(t, err, c.want, name)
	}
	_, err := Disperse(nil, math.NaN())
	require.ErrorIs(t, err, ErrBadInput)

	one, err := ShrinkRatios([]UnitCount{{7, 4}}, ok)
	require.NoError(t, err)
	require.True(t, almost(one.Units[0].Shrunk, 1.75, 1e-12), "%+v", one)
	require.True(t, one.Units[0].Limits.Low < 1.75 && one.Units[0].Limits.High > 1.75)

	huge, err := ShrinkRatios([]UnitCount{{9e7, 1e8}, {1.1e8, 1e8}, {1e8, 1e8}}, ok)
	require.NoError(t, err)
	require.True(t, relative(huge.Dispersion, 0.02/3, 0.01), "%g", huge.Dispersion)
	require.True(t, almost(huge.Units[0].Shrunk, 0.9, 1e-6))

	// The likelihood rises towards "all or nothing" without end.
	_, err = ShrinkShares([]UnitShare{{0, 5}, {5, 5}, {0, 5}}, ok)
	require.ErrorIs(t, err, ErrNoConvergence)
}

func TestShrinkProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		units := drawUnits(t)
		s, err := ShrinkRatios(units, ShrinkOptions{Level: 0.95})
		if err != nil {
			require.ErrorIs(t, err, ErrNoData)
			require.False(t, someEvents(units), "%v", err)
			return
		}
		r, err := ShrinkRatios(backwards(units), ShrinkOptions{Level: 0.95})
		require.NoError(t, err)
		require.True(t, almost(r.Mean, s.Mean, 1e-8) && almost(r.Dispersion, s.Dispersion, 1e-6), "order matters: %+v %+v", r, s)
		for i, u := range s.Units {
			q := r.Units[len(units)-1-i]
			require.True(t, almost(q.Shrunk, u.Shrunk, 1e-6))
			lo, hi := min(u.Raw, s.Mean), max(u.Raw, s.Mean)
			require.True(t, u.Shrunk >= lo*(1-1e-12) && u.Shrunk <= hi*(1+1e-12), "shrunk outside raw and mean: %+v, mean %g", u, s.Mean)
			require.True(t, u.Limits.Low <= u.Shrunk && u.Shrunk <= u.Limits.High, "%+v", u)
		}
		require.True(t, s.DispersionLimits.Low <= s.Dispersion && s.Dispersion <= s.DispersionLimits.High, "%+v", s.DispersionLimits)
	})
}

// A crude two-way search over the margin by plain products must not beat the fit.
func TestShrinkRatiosBeatsEveryGridPoint(t *testing.T) {
	units := []UnitCount{{4, 2}, {0, 3}, {9, 5}, {2, 4}, {12, 6}, {1, 1.5}}
	s, err := ShrinkRatios(units, ShrinkOptions{Level: 0.95})
	require.NoError(t, err)
	slow := func(m, d float64) float64 {
		ll := 0.0
		for _, u := range units {
			p, mu := 1.0, m*u.Expected
			for j := range int(u.Observed) {
				p *= (1 + float64(j)*d) * mu / (1 + d*mu) / float64(j+1)
			}
			ll += math.Log(p * math.Pow(1+d*mu, -1/d))
		}
		return ll
	}
	best := slow(s.Mean, s.Dispersion)
	for m := 0.6; m < 2.4; m += 0.01 {
		for d := 0.005; d < 3; d *= 1.05 {
			require.LessOrEqual(t, slow(m, d), best+1e-12, "mean %g, dispersion %g", m, d)
		}
	}
	require.Greater(t, best, slow(s.Mean*1.001, s.Dispersion))
	require.Greater(t, best, slow(s.Mean, s.Dispersion*1.01))
}

func BenchmarkShrinkRatios100Units(b *testing.B) {
	units := make([]UnitCount, 100)
	for i := range units {
		units[i] = UnitCount{float64((i * 37) % 90), 20 + float64(i%40)}
	}
	for b.Loop() {
		if _, err := ShrinkRatios(units, ShrinkOptions{Level: 0.95}); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkShrinkShares100Units(b *testing.B) {
	units := make([]UnitShare, 100)
	for i := range units {
		units[i] = UnitShare{float64((i * 37) % 90), 120 + float64(i%40)}
	}
	for b.Loop() {
		if _, err := ShrinkShares(units, ShrinkOptions{Level: 0.95}); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkRatioFunnel100Units(b *testing.B) {
	units := make([]UnitCount, 100)
	for i := range units {
		units[i] = UnitCount{float64((i * 37) % 90), 20 + float64(i%40)}
	}
	for b.Loop() {
		if _, err := RatioFunnel(units, DefaultFunnel()); err != nil {
			b.Fatal(err)
		}
	}
}

// TestUnitsOnly: units come out the same without the limits of the spread, also where there
// is no spread, whose upper limit they then hang on.
func TestUnitsOnly(t *testing.T) {
	for name, units := range map[string][]UnitShare{
		"apart": {{2, 40}, {12, 40}, {25, 50}, {3, 60}},
		"alike": {{10, 40}, {11, 40}, {12, 48}, {15, 60}},
	} {
		all, err := ShrinkShares(units, ShrinkOptions{Level: 0.95})
		require.NoError(t, err)
		alone, err := ShrinkShares(units, ShrinkOptions{Level: 0.95, UnitsOnly: true})
		require.NoError(t, err)
		require.Equal(t, all.Units, alone.Units, name)
		require.Equal(t, all.Warnings, alone.Warnings, name)
		require.Equal(t, name == "apart", math.IsNaN(alone.DispersionLimits.Low), name)
	}
}
