package stats

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
)

type robustReference struct {
	Poisson, NB, Logistic, Firth, Big glmFrame
	Tests                             map[string][]float64
	Dispersion                        []float64
	Curve                             struct {
		LWT, Smoke, Low, Knots, XS, Contrast, SE, Low95, High95, Flat, Straight []float64
	}
}

func loadRobust(t *testing.T) robustReference {
	t.Helper()
	var ref robustReference
	loadReference(t, "glm_robust", &ref)
	return ref
}

// nested keeps the first two columns.
func nested(d Patterns) Patterns {
	const k = 2
	p := len(d.Names)
	out := d
	out.Names, out.X = d.Names[:k], nil
	for i := range d.Y {
		out.X = append(out.X, d.X[i*p:i*p+k]...)
	}
	return out
}

// columnsOf are columns from..p-1, row-major.
func columnsOf(d Patterns, from, to int) []float64 {
	var out []float64
	for i := range d.Y {
		out = append(out, d.X[i*len(d.Names)+from:i*len(d.Names)+to]...)
	}
	return out
}

// setColumn is the design with column j set to v in every row.
func setColumn(d Patterns, j int, v float64) []float64 {
	x := append([]float64{}, d.X...)
	for i := range d.Y {
		x[i*len(d.Names)+j] = v
	}
	return x
}

// Reference: R glm, MASS::glm.nb with sandwich::vcovHC and vcovCL; clubSandwich for
// CR2, coef_test (Satterthwaite) and Wald_test (HTZ). Poisson and NB have an offset.
func TestRobustAfterEveryFamilyAgainstR(t *testing.T) {
	ref := loadRobust(t)
	for _, c := range []struct {
		name   string
		family Family
		want   glmFrame
	}{{"poisson", Poisson, ref.Poisson}, {"nb", NegativeBinomial, ref.NB}, {"logistic", Logistic, ref.Logistic}} {
		t.Run(c.name, func(t *testing.T) {
			f, clusters := requireFit(t, c.family, c.want, c.name)
			requireRobust(t, f, c.want, clusters)
			requireSmallSample(t, f, c.want, clusters)
		})
	}
	require.InDelta(t, ref.NB.Theta, fitOf(t, NegativeBinomial, ref.NB).Theta, 1e-6*ref.NB.Theta)
}

func fitOf(t *testing.T, family Family, frame glmFrame) *Fit {
	t.Helper()
	d, _ := collapse(frame)
	f, err := FitGLM(family, d)
	require.NoError(t, err)
	return f
}

func requireSmallSample(t *testing.T, f *Fit, want glmFrame, clusters []Composition) {
	t.Helper()
	cov, err := f.ClusterCovariance(CR2, clusters)
	require.NoError(t, err)
	var df, p []float64
	all := []int{}
	for j := range f.Names {
		e, err := f.Wald(j, cov, 0.95)
		require.NoError(t, err)
		df, p = append(df, e.DF), append(p, e.P)
		if j > 0 {
			all = append(all, j)
		}
	}
	requireVector(t, want.DF, df, 1e-6, "Satterthwaite")
	requireVector(t, want.P, p, 1e-5, "P")
	for _, c := range []struct {
		columns []int
		want    []float64
	}{{all, want.Joint}, {[]int{1, 2}, want.Pair}} {
		got, err := f.WaldJoint(c.columns, cov)
		require.NoError(t, err)
		requireVector(t, c.want, []float64{got.Statistic, got.DF, got.DF2, got.P}, 1e-5, "joint")
	}
}

// Reference: brglm2's fit with the binomial score's sandwich by hand in R.
func TestRobustAfterFirthAgainstR(t *testing.T) {
	want := loadRobust(t).Firth
	d, clusters := collapse(want)
	f, err := FitFirth(d)
	require.NoError(t, err)
	cov, err := f.ClusterCovariance(CR0, clusters)
	require.NoError(t, err)
	requireMatrix(t, want.CR0, cov.Matrix, 1e-6, "CR0")
	requireMatrix(t, want.HC0, f.HCCovariance(false).Matrix, 1e-6, "HC0")
	requireStandard(t, f, d, 1, CR0, clusters, want.Standard)
}

// Reference: own delta method in R on the fits above.
func TestStandardiseAfterEveryFamilyAgainstR(t *testing.T) {
	ref := loadRobust(t)
	for _, c := range []struct {
		family Family
		want   glmFrame
	}{{NegativeBinomial, ref.NB}, {Logistic, ref.Logistic}} {
		f, clusters := requireFit(t, c.family, c.want, "fit")
		requireStandard(t, f, f.data, 2, CR1, clusters, c.want.Standard)
	}
}

func requireStandard(t *testing.T, f *Fit, d Patterns, column int, kind ClusterKind, clusters []Composition, want []float64) {
	t.Helper()
	cov, err := f.ClusterCovariance(kind, clusters)
	require.NoError(t, err)
	s, err := f.Standardise(setColumn(d, column, 1), setColumn(d, column, 0), cov, 0.95)
	require.NoError(t, err)
	requireVector(t, want, []float64{s.Exposed.Estimate, s.Reference.Estimate, s.Difference.Estimate, s.Difference.SE, s.Ratio.Estimate, s.Ratio.SE}, 1e-6, "standardised")
	if !relative(s.Avoided, want[2]*f.weight, 1e-8) {
		t.Errorf("avoided %g", s.Avoided)
	}
	low, high := s.Ratio.Limits.Low, s.Ratio.Limits.High
	require.True(t, low < s.Ratio.Estimate && s.Ratio.Estimate < high && low > 0)
}

// Reference: R anova (Rao), differences of logLik, Pearson sums.
func TestTestsAgainstR(t *testing.T) {
	ref := loadRobust(t)
	for _, c := range []struct {
		name   string
		family Family
		frame  glmFrame
	}{{"poisson", Poisson, ref.Poisson}, {"nb", NegativeBinomial, ref.NB}, {"logistic", Logistic, ref.Logistic}} {
		full := fitOf(t, c.family, c.frame)
		small, err := FitGLM(c.family, nested(full.data))
		require.NoError(t, err)
		lr, err := LikelihoodRatio(full, small)
		require.NoError(t, err)
		requireVector(t, ref.Tests["lr"+c.name], []float64{lr.Statistic, lr.DF, lr.P}, 1e-6, c.name+" LR")
		score, err := small.ScoreTest(full.Names[2:], columnsOf(full.data, 2, 4))
		require.NoError(t, err)
		requireVector(t, ref.Tests["rao"+c.name], []float64{score.Statistic, score.DF, score.P}, 1e-6, c.name+" score")
	}
	full := fitOf(t, Logistic, ref.Logistic)
	small, err := FitGLM(Logistic, nested(full.data))
	require.NoError(t, err)
	one, err := small.ScoreTest([]string{"ht"}, columnsOf(full.data, 3, 4))
	require.NoError(t, err)
	requireVector(t, ref.Tests["raoone"], []float64{one.Statistic, one.DF, one.P}, 1e-6, "single score")
	var phi []float64
	for _, f := range []*Fit{fitOf(t, Poisson, ref.Poisson), fitOf(t, NegativeBinomial, ref.NB)} {
		v, err := f.PearsonDispersion()
		require.NoError(t, err)
		phi = append(phi, v)
		quasi, err := f.QuasiCovariance()
		require.NoError(t, err)
		requireVector(t, []float64{v * f.ModelCovariance().Matrix.At(1, 1), f.weight - 4}, []float64{quasi.Matrix.At(1, 1), quasi.DF}, 1e-12, "quasi")
	}
	requireVector(t, ref.Dispersion, phi, 1e-6, "dispersion")
	_, err = full.PearsonDispersion()
	require.ErrorIs(t, err, ErrBadInput)
}

func TestTestsRefuseWhatTheyCannotTell(t *testing.T) {
	full := fitOf(t, Poisson, loadRobust(t).Poisson)
	small, err := FitGLM(Poisson, nested(full.data))
	require.NoError(t, err)
	refused := func(a, b *Fit) {
		t.Helper()
		_, err := LikelihoodRatio(a, b)
		require.ErrorIs(t, err, ErrBadInput)
	}
	refused(small, full)
	// The same number of columns fewer, yet no combination of the full model's.
	other := nested(full.data)
	for i := range other.Y {
		other.X[2*i+1] = float64(i * i % 7)
	}
	apart, err := FitGLM(Poisson, other)
	require.NoError(t, err)
	refused(full, apart)
	moved := nested(full.data)
	moved.Offset = nil
	less, err := FitGLM(Poisson, moved)
	require.NoError(t, err)
	refused(full, less)
	// A combination in other words is nested.
	mixed := nested(full.data)
	for i := range mixed.Y {
		mixed.X[2*i+1] = 3 - 2*full.data.X[4*i+1]
	}
	same, err := FitGLM(Poisson, mixed)
	require.NoError(t, err)
	_, err = LikelihoodRatio(full, same)
	require.NoError(t, err)
	_, err = full.ScoreTest([]string{"again"}, columnsOf(full.data, 1, 2))
	require.ErrorIs(t, err, ErrAliased)
	require.ErrorContains(t, err, "again")
	_, err = full.ScoreTest([]string{"nan"}, orConstant(nil, len(full.data.Y), math.NaN()))
	require.ErrorIs(t, err, ErrBadInput)
	_, err = full.WaldJoint(nil, full.ModelCovariance())
	require.ErrorIs(t, err, ErrBadInput)
	_, err = full.WaldJoint([]int{1, 1}, full.ModelCovariance())
	require.ErrorIs(t, err, ErrBadInput)
}

// Reference: MASS::glm.nb on counts up to 13653.
func TestHugeCountsAgainstR(t *testing.T) {
	want := loadRobust(t).Big
	f, _ := requireFit(t, NegativeBinomial, want, "big")
	requireVector(t, []float64{want.Theta, want.ThetaSE}, []float64{f.Theta, f.ThetaSE}, 1e-6, "theta")
}

// Reference: rms::lrm with contrast and anova. rms scales its basis as ours.
func TestSplineCurveAgainstR(t *testing.T) {
	ref := loadRobust(t).Curve
	frame := glmFrame{Names: []string{"one", "lwt", "lwt'", "lwt''", "smoke"}, Y: ref.Low}
	for i, x := range ref.LWT {
		basis, err := SplineBasis(x, ref.Knots)
		require.NoError(t, err)
		frame.X = append(frame.X, append(append([]float64{1}, basis...), ref.Smoke[i]))
	}
	f := fitOf(t, Logistic, frame)
	columns, cov := []int{1, 2, 3}, f.ModelCovariance()
	curve, err := f.SplineCurve(columns, ref.Knots, ref.XS, 120, cov, 0.95)
	require.NoError(t, err)
	for i, e := range curve {
		requireVector(t, []float64{ref.Contrast[i], ref.SE[i], ref.Low95[i], ref.High95[i]},
			[]float64{e.Estimate, e.SE, e.Limits.Low, e.Limits.High}, 1e-6, "curve")
	}
	require.Equal(t, 1.0, curve[2].P)
	flat, straight, err := f.SplineTests(columns, cov)
	require.NoError(t, err)
	requireVector(t, ref.Flat, []float64{flat.Statistic, flat.DF, flat.P}, 1e-6, "flat")
	requireVector(t, ref.Straight, []float64{straight.Statistic, straight.DF, straight.P}, 1e-6, "straight")
	_, err = f.SplineCurve(columns, ref.Knots, []float64{math.NaN()}, 120, cov, 0.95)
	require.ErrorIs(t, err, ErrBadInput)
	_, err = f.SplineCurve(columns[:2], ref.Knots, ref.XS, 120, cov, 0.95)
	require.ErrorIs(t, err, ErrBadInput)
}
