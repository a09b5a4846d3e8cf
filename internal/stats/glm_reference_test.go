package stats

import (
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"
)

// glmFrame is one fit of glm_fit.R.
type glmFrame struct {
	Names                                     []string
	X, Model, HC0, HC1, CR0, CR1, CR2, Limits [][]float64
	Y, Offset, Coef, Cluster, Profile         []float64
	LogLik, Theta, ThetaSE, Penalised         float64

	// Small-sample tests of clubSandwich: per coefficient, and F, df, df2, P of all
	// but the first column and of the second and third; standardised means.
	DF, P, Joint, Pair, Standard []float64
}

type glmReference struct {
	Poisson, Logistic, Quine, Epil, Longley, Firth glmFrame
	Standard                                       struct {
		Means                            []float64
		Difference, SeDiff, Ratio, SeLog float64
	}
	Spline struct {
		X, Knots []float64
		Basis    [][]float64
	}
}

func loadGLM(t *testing.T) glmReference {
	t.Helper()
	var ref glmReference
	loadReference(t, "glm_fit", &ref)
	return ref
}

// collapse makes patterns and cluster compositions from rows, as a query would, but
// keeps equal clusters apart.
func collapse(f glmFrame) (Patterns, []Composition) {
	d, index := Patterns{Names: f.Names}, map[string]int{}
	offset := orConstant(f.Offset, len(f.Y), 0)
	members := map[float64]map[int]float64{}
	var order []float64
	for i, row := range f.X {
		key := rowKey(row, f.Y[i], offset[i])
		k, ok := index[key]
		if !ok {
			k = len(d.Y)
			index[key] = k
			d.X, d.Y, d.Weight, d.Offset = append(d.X, row...), append(d.Y, f.Y[i]), append(d.Weight, 0), append(d.Offset, offset[i])
		}
		d.Weight[k]++
		if f.Cluster == nil {
			continue
		}
		if members[f.Cluster[i]] == nil {
			members[f.Cluster[i]] = map[int]float64{}
			order = append(order, f.Cluster[i])
		}
		members[f.Cluster[i]][k]++
	}
	var out []Composition
	for _, g := range order {
		c := Composition{N: 1}
		for k := range d.Y {
			if n := members[g][k]; n > 0 {
				c.Members = append(c.Members, Member{k, n})
			}
		}
		out = append(out, c)
	}
	return d, out
}

// merge counts equal clusters together.
func merge(clusters []Composition) []Composition {
	var out []Composition
	index := map[string]int{}
	for _, c := range clusters {
		key := fmt.Sprint(c.Members)
		k, ok := index[key]
		if !ok {
			k = len(out)
			index[key] = k
			out = append(out, Composition{Members: c.Members})
		}
		out[k].N += c.N
	}
	return out
}

func rowKey(row []float64, more ...float64) string {
	key := make([]byte, 0, 8*len(row)+8)
	for _, v := range append(append([]float64{}, row...), more...) {
		for b := math.Float64bits(v + 0); b > 0; b >>= 8 {
			key = append(key, byte(b))
		}
		key = append(key, '|')
	}
	return string(key)
}

func requireMatrix(t *testing.T, want [][]float64, got *mat.SymDense, tol float64, about string) {
	t.Helper()
	require.Len(t, want, got.SymmetricDim(), about)
	for i := range want {
		for j := range want[i] {
			scale := math.Sqrt(math.Abs(want[i][i] * want[j][j]))
			if !almost(got.At(i, j)/scale, want[i][j]/scale, tol) {
				t.Errorf("%s[%d,%d]: got %.12g, want %.12g", about, i, j, got.At(i, j), want[i][j])
			}
		}
	}
}

func requireVector(t *testing.T, want, got []float64, tol float64, about string) {
	t.Helper()
	require.Len(t, got, len(want), about)
	for i := range want {
		if !relative(got[i], want[i], tol) {
			t.Errorf("%s[%d]: got %.12g, want %.12g", about, i, got[i], want[i])
		}
	}
}

func requireFit(t *testing.T, family Family, want glmFrame, about string) (*Fit, []Composition) {
	t.Helper()
	d, clusters := collapse(want)
	f, err := FitGLM(family, d)
	require.NoError(t, err, about)
	requireVector(t, want.Coef, f.Coef, 1e-6, about+" coef")
	requireVector(t, []float64{want.LogLik}, []float64{f.LogLik}, 1e-8, about+" loglik")
	requireMatrix(t, want.Model, f.ModelCovariance().Matrix, 1e-6, about+" model")
	return f, clusters
}

// requireRobust compares every robust covariance of a fit with the reference.
func requireRobust(t *testing.T, f *Fit, want glmFrame, clusters []Composition) {
	t.Helper()
	requireMatrix(t, want.HC0, f.HCCovariance(false).Matrix, 1e-6, "HC0")
	requireMatrix(t, want.HC1, f.HCCovariance(true).Matrix, 1e-6, "HC1")
	groups := 0.0
	for _, c := range clusters {
		groups += c.N
	}
	for kind, reference := range [][][]float64{want.CR0, want.CR1, want.CR2} {
		cov, err := f.ClusterCovariance(ClusterKind(kind), clusters)
		require.NoError(t, err)
		requireMatrix(t, reference, cov.Matrix, 1e-6, cov.Kind)
		require.Equal(t, groups < 30, len(cov.Warnings) == 1)
	}
}

// Reference: R glm, sandwich and clubSandwich on MASS::epil and MASS::birthwt.
func TestRobustCovarianceAgainstR(t *testing.T) {
	ref := loadGLM(t)
	for _, c := range []struct {
		family Family
		want   glmFrame
	}{{Poisson, ref.Poisson}, {Logistic, ref.Logistic}} {
		f, clusters := requireFit(t, c.family, c.want, "fit")
		requireRobust(t, f, c.want, clusters)
	}
}

// Reference: R MASS::glm.nb on quine and epil; glm on the ill-conditioned longley.
func TestFitsAgainstR(t *testing.T) {
	ref := loadGLM(t)
	requireFit(t, Poisson, ref.Longley, "longley")
	for name, want := range map[string]glmFrame{"quine": ref.Quine, "epil": ref.Epil} {
		f, _ := requireFit(t, NegativeBinomial, want, name)
		requireVector(t, []float64{want.Theta, want.ThetaSE}, []float64{f.Theta, f.ThetaSE}, 1e-6, name+" theta")
	}
}

// Reference: R brglm2 on the endometrial data of Heinze & Schemper (2002); limits by
// the script's own profile.
func TestFirthAgainstR(t *testing.T) {
	want := loadGLM(t).Firth
	d, _ := collapse(want)
	f, err := FitFirth(d)
	require.NoError(t, err)
	requireVector(t, want.Coef, f.Coef, 1e-6, "coef")
	requireMatrix(t, want.Model, f.ModelCovariance().Matrix, 1e-6, "model")
	requireVector(t, []float64{want.Penalised}, []float64{f.LogLik}, 1e-8, "penalised")
	for j, limits := range want.Limits {
		got, err := f.ProfileLimits(j, 0.95)
		require.NoError(t, err)
		sameInterval(t, Interval{limits[0], limits[1]}, got, 1e-6, want.Names[j])
	}
	for j, want := range want.Profile {
		got, err := f.ProfileTest(j)
		require.NoError(t, err)
		requireVector(t, []float64{want}, []float64{got.Statistic}, 1e-6, "profile test")
	}
	plain, err := FitGLM(Logistic, d)
	require.NoError(t, err)
	require.Equal(t, []string{"NV"}, plain.Separated)
	e, err := plain.Wald(1, plain.ModelCovariance(), 0.95)
	require.NoError(t, err)
	require.True(t, math.IsNaN(e.P) && math.IsInf(e.Limits.High, 1))
}

// Reference: glm_fit.R's own delta method on MASS::epil.
func TestStandardiseAgainstR(t *testing.T) {
	ref := loadGLM(t)
	f, clusters := requireFit(t, Poisson, ref.Poisson, "poisson")
	cov, err := f.ClusterCovariance(CR1, clusters)
	require.NoError(t, err)
	set := func(v float64) []float64 {
		x, p := append([]float64{}, f.data.X...), len(f.Names)
		for i := range f.data.Y {
			x[i*p+2], x[i*p+5] = v, v*x[i*p+1]
		}
		return x
	}
	s, err := f.Standardise(set(1), set(0), cov, 0.95)
	require.NoError(t, err)
	w := ref.Standard
	requireVector(t, []float64{w.Means[0], w.Means[1], w.Difference, w.SeDiff, w.Ratio, w.SeLog},
		[]float64{s.Exposed.Estimate, s.Reference.Estimate, s.Difference.Estimate, s.Difference.SE, s.Ratio.Estimate, s.Ratio.SE}, 1e-6, "standardised")
}

// Reference: R Hmisc::rcspline.eval with norm = 2, quantile(type = 7).
func TestSplineAgainstR(t *testing.T) {
	ref := loadGLM(t).Spline
	knots, err := SplineKnots(ref.X, orConstant(nil, len(ref.X), 1), SplineProbabilities)
	require.NoError(t, err)
	requireVector(t, ref.Knots, knots, 1e-12, "knots")
	for i, x := range ref.X {
		got, err := SplineBasis(x, knots)
		require.NoError(t, err)
		for k := range got {
			require.True(t, almost(got[k], ref.Basis[i][k], 1e-8), "x=%g term %d", x, k)
		}
	}
}
