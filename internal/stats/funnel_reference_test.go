package stats

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// requireFunnelLimits compares interpolated and exact limits with R's, which are
// not cut to the range of the values.
func requireFunnelLimits(t *testing.T, f Funnel, size float64, top float64, at func(string) float64) {
	t.Helper()
	near, exact := f.Limits(size, at("level")), f.ExactLimits(size, at("level"))
	sameInterval(t, Interval{max(0, at("low")), min(top, at("high"))}, near, 1e-8, "interpolated")
	sameInterval(t, Interval{at("lowExact"), at("highExact")}, exact, 1e-12, "exact")
}

// compare_funnel.R: qbinom and qpois of R, interpolated there by the definition.
func TestFunnelLimitsAgainstR(t *testing.T) {
	var ref struct{ Share, Ratio columns }
	loadReference(t, "compare_funnel", &ref)
	ref.Share.rows(t, func(_ int, at func(string) float64) {
		f, err := ShareFunnel([]UnitShare{{1, 2}}, FunnelOptions{Target: at("target")})
		require.NoError(t, err)
		requireFunnelLimits(t, f, at("n"), 1, at)
	})
	ref.Ratio.rows(t, func(_ int, at func(string) float64) {
		f, err := RatioFunnel([]UnitCount{{1, 2}}, FunnelOptions{Target: at("target")})
		require.NoError(t, err)
		requireFunnelLimits(t, f, at("e"), 1e300, at)
	})
}

// compare_funnel.R: scores and phi by the formulas of the paper, tau^2 without
// winsorising by metafor's DerSimonian-Laird, the rescaling by numerical integration.
func TestFunnelSpreadAgainstR(t *testing.T) {
	var ref struct {
		X, N, Z                                             []float64
		Phi, PhiRescaled, Tau2Winsorised, Tau2, Consistency float64
	}
	loadReference(t, "compare_funnel", &ref)
	units := make([]UnitShare, len(ref.N))
	for i := range units {
		units[i] = UnitShare{ref.X[i], ref.N[i]}
	}
	f, err := ShareFunnel(units, FunnelOptions{Spread: Additive, Winsor: 0.1})
	require.NoError(t, err)
	require.True(t, relative(f.Phi, ref.Phi, 1e-10) && relative(f.Tau2, ref.Tau2Winsorised, 1e-9), "%g %g", f.Phi, f.Tau2)
	for i, p := range f.Points {
		require.True(t, relative(p.Z, ref.Z[i], 1e-10), "unit %d: %g", i, p.Z)
	}
	f, err = ShareFunnel(units, FunnelOptions{Spread: Additive})
	require.NoError(t, err)
	require.True(t, relative(f.Tau2, ref.Tau2, 1e-9), "%g", f.Tau2)
	f, err = ShareFunnel(units, DefaultFunnel())
	require.NoError(t, err)
	require.True(t, relative(f.Phi, ref.PhiRescaled, 1e-9), "%g", f.Phi)
	require.True(t, relative(winsorisedVariance(0.1), ref.Consistency, 1e-9))
}

// Additive spread: far out the limits stop narrowing at about z tau, multiplicative
// ones narrow as without it, wider by the root of phi.
func TestFunnelSpreadShapesTheLimits(t *testing.T) {
	units := []UnitCount{{70, 100}, {140, 100}, {90, 100}, {120, 100}, {60, 100}, {125, 100}}
	opt := FunnelOptions{Target: 1, Spread: Additive}
	f, err := RatioFunnel(units, opt)
	require.NoError(t, err)
	require.True(t, relative(f.Tau2, (f.Phi*6-5)/500, 1e-12), "%g", f.Tau2) // equal weights of 100
	wide := f.Limits(1e8, 0.95)
	// The limits keep the skewness of a Poisson law of mean 1/tau^2, about 13 here.
	require.True(t, wide.High > 1.4 && wide.Low < 0.6, "%v", wide)
	opt.Spread = Multiplicative
	m, err := RatioFunnel(units, opt)
	require.NoError(t, err)
	plain, err := RatioFunnel(units, FunnelOptions{Target: 1})
	require.NoError(t, err)
	// Without end in size the variance is tau^2, as that of a unit of size 1/tau^2.
	sameInterval(t, plain.Limits(1e8/(1+1e8*f.Tau2), 0.95), wide, 1e-9, "additive")
	a, b := m.Limits(1e6, 0.95), plain.Limits(1e6, 0.95)
	require.InDelta(t, m.Phi, (a.High-a.Low)*(a.High-a.Low)/((b.High-b.Low)*(b.High-b.Low)), 0.01*m.Phi)
}

// A size that no law reaches has no limits, and neither has no size.
func TestFunnelLimitsAtAbsurdSizes(t *testing.T) {
	f, err := RatioFunnel([]UnitCount{{1, 1}}, FunnelOptions{Target: 2})
	require.NoError(t, err)
	whole := Interval{0, f.law.top}
	for _, size := range []float64{0, -1, 1e11, 6e9} {
		require.Equal(t, whole, f.Limits(size, 0.95), "%g", size)
	}
	require.NotEqual(t, whole, f.Limits(1e9, 0.95))
}
