package stats

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"
)

// coxRidge is the case of seven observations in cox_fit.R.
type coxRidge struct {
	Rows []struct {
		A, B, Off          float64
		S                  int
		Entry, Time, Event float64
	}
	Along []struct {
		At     []float64
		LogLik float64
		Model  [][]float64
	}
	LogLik []float64
	Score  float64
}

func (c coxRidge) data() (CoxPatterns, []CoxRow) {
	p := CoxPatterns{Names: []string{"a", "b"}}
	var rows []CoxRow
	for i, r := range c.Rows {
		p.X, p.Offset, p.Stratum = append(p.X, r.A, r.B), append(p.Offset, r.Off), append(p.Stratum, r.S)
		rows = append(rows, CoxRow{Pattern: i, Entry: r.Entry, Time: r.Time, Event: r.Event == 1, Count: 1})
	}
	return p, rows
}

// moveTo sets the coefficients of a fit with two columns and no aliased one.
func (f *CoxFit) moveTo(t *testing.T, coef []float64) float64 {
	t.Helper()
	var g mat.VecDense
	require.NoError(t, g.SolveVec(f.linear.basis.rinv, mat.NewVecDense(len(coef), coef)))
	return f.evaluate(g.RawVector().Data)
}

// Three of the four events prefer a = -infinity and the fourth leaves it free as long
// as b follows, so there is no maximum. A fit that took late rows out of running sums
// lost what others add to rounding on the way, and reported a finite estimate with a
// small standard error. Reference: R 4.2.2, survival 3.5.3 (testdata/reference/
// cox_fit.R), which stops at a = -22.6 with the warning that it did not converge.
func TestCoxRidgeWithLateEntry(t *testing.T) {
	var ref struct{ Ridge coxRidge }
	loadReference(t, "cox_fit", &ref)
	want := ref.Ridge
	p, rows := want.data()
	opt := CoxOptions{LeftTruncated: true}
	f, err := FitCox(p, rows, opt)
	require.NoError(t, err)
	require.Equal(t, []string{"a", "b"}, f.Monotone)
	require.Equal(t, "monotone likelihood", f.Warnings[0].Code)
	for j := range p.Names {
		e, err := f.Wald(j, f.ModelCovariance(), 0.95)
		require.NoError(t, err)
		require.Equal(t, Interval{math.Inf(-1), math.Inf(1)}, e.Limits)
	}
	// In the limit only the tie of stratum 4 is left: with u the second event's risk
	// over the first's, u / ((3+u)(5+u)/2), which is greatest at the root of 15.
	u := math.Sqrt(15)
	require.InDelta(t, math.Log(2*u/((3+u)*(5+u))), f.LogLik, 1e-8)
	require.InDelta(t, want.LogLik[1], f.LogLik, 1e-6)
	require.True(t, almost(f.NullLogLik, want.LogLik[0], 1e-12))
	score, err := f.ScoreTest()
	require.NoError(t, err)
	require.True(t, almost(score.Statistic, want.Score, 1e-10))
	for _, at := range want.Along {
		require.True(t, almost(f.moveTo(t, at.At), at.LogLik, 1e-12), "%v", at.At)
		inv, ok := inverseSym(f.risk.information(f.index, f.linear.basis.q, nil))
		require.True(t, ok)
		requireMatrix(t, at.Model, f.linear.toColumns(inv), 1e-8, "model")
	}
}

// Far out on the ridge, where R's sums fail too, the likelihood written out decides.
func TestCoxFarOutOnTheRidge(t *testing.T) {
	var ref struct{ Ridge coxRidge }
	loadReference(t, "cox_fit", &ref)
	p, rows := ref.Ridge.data()
	opt := CoxOptions{LeftTruncated: true}
	f, err := FitCox(p, rows, opt)
	require.NoError(t, err)
	for _, a := range []float64{-20, -30, -36, -50, -200} {
		coef := []float64{a, 0.06 * a}
		require.True(t, almost(f.moveTo(t, coef), slowCox(p, rows, opt, coef), 1e-12), "%g", a)
		shares, _ := f.flatness(f.risk.information(f.index, f.linear.basis.q, nil))
		// What is left along the ridge is the pull of the first stratum.
		require.Less(t, shares[0], 2*math.Exp(0.625*a)+1e-15, "%g", a)
	}
}

// One person with a risk e^400 times that of the others has the first event and leaves;
// what follows must come out as without that person, robust covariance included.
func TestCoxWithRisksFarApart(t *testing.T) {
	p := CoxPatterns{Names: []string{"x"}, X: []float64{0, 0, 1}, Offset: []float64{400, 0, 0}}
	rest := []CoxRow{{1, 0, 2, true, 3}, {2, 0, 2, true, 5}, {1, 0, 3, true, 2}, {2, 0, 4, true, 4}, {1, 0, 5, false, 6}, {2, 0, 5, false, 2}, {2, 1, 5, true, 1}}
	var clusters []Composition
	for i, r := range rest {
		clusters = append(clusters, Composition{[]Member{{i, 1}}, r.Count})
	}
	for _, late := range []bool{false, true} {
		opt := CoxOptions{LeftTruncated: late}
		want, err := FitCox(p, rest, opt)
		require.NoError(t, err)
		got, err := FitCox(p, append(append([]CoxRow{}, rest...), CoxRow{0, 0, 1, true, 1}), opt)
		require.NoError(t, err)
		require.True(t, almost(got.Coef[0], want.Coef[0], 1e-9), "%g %g", got.Coef[0], want.Coef[0])
		require.True(t, almost(got.LogLik, want.LogLik, 1e-12))
		require.True(t, almost(got.ModelCovariance().Matrix.At(0, 0), want.ModelCovariance().Matrix.At(0, 0), 1e-9))
		one, err := want.ClusterCovariance(CR0, clusters)
		require.NoError(t, err)
		other, err := got.ClusterCovariance(CR0, append(append([]Composition{}, clusters...), Composition{[]Member{{len(rest), 1}}, 1}))
		require.NoError(t, err)
		require.True(t, almost(other.Matrix.At(0, 0), one.Matrix.At(0, 0), 1e-9))
	}
}
