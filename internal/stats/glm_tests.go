package stats

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"
)

// JointTest is a test of several coefficients at once. With DF2 = +Inf the statistic
// follows the chi-squared law with DF degrees, else it is an F of DF and DF2.
type JointTest struct {
	Statistic, DF, DF2, P float64
	Warnings              []Warning
}

func chiSquareTest(statistic float64, df int) JointTest {
	p := math.NaN()
	if !math.IsNaN(statistic) {
		_, p = gammaTails(float64(df)/2, math.Max(statistic, 0)/2)
	}
	return JointTest{Statistic: statistic, DF: float64(df), DF2: math.Inf(1), P: p}
}

// singularJoint is the norm of the inverse correlations from which a joint test is
// refused: rounding alone would decide it.
const singularJoint = 1e12

// WaldJoint tests that the columns' coefficients are all zero. The law is
// chi-squared with a covariance of infinite DF; F with DF2 = DF for the others; after
// CR2 it is the approximate Hotelling T^2 of Tipton & Pustejovsky (2015). Separated
// and aliased columns are refused, and a test of more columns than the clusters
// can tell apart.
func (f *Fit) WaldJoint(columns []int, cov Covariance) (JointTest, error) {
	q := len(columns)
	b, v, gradients := make([]float64, q), mat.NewSymDense(max(q, 1), nil), mat.NewDense(len(f.Names), max(q, 1), nil)
	for _, j := range columns {
		if j < 0 || j >= len(f.Names) || f.withheld(j) {
			return JointTest{}, fmt.Errorf("%w: column %d has no Wald test", ErrBadInput, j)
		}
	}
	for a, j := range columns {
		// In units of standard errors, so that the condition below is that of correlations.
		se := math.Sqrt(cov.Matrix.At(j, j))
		b[a] = f.Coef[j] / se
		gradients.Set(j, a, 1)
		for c := a; c < q; c++ {
			v.SetSym(a, c, cov.Matrix.At(j, columns[c])/se/math.Sqrt(cov.Matrix.At(columns[c], columns[c])))
		}
	}
	inv, ok := inverseSym(v)
	if q == 0 || !ok || !(mat.Norm(inv, 1) < singularJoint) {
		return JointTest{}, fmt.Errorf("%w: no columns, or their covariance is singular", ErrBadInput)
	}
	x := mat.NewVecDense(q, b)
	out := chiSquareTest(mat.Inner(x, inv, x), q)
	out.Warnings = append(out.Warnings, cov.Warnings...)
	if math.IsInf(cov.DF, 1) {
		return out, nil
	}
	return f.smallSample(out, gradients, cov)
}

// smallSample turns a chi-squared statistic into F.
func (f *Fit) smallSample(test JointTest, gradients *mat.Dense, cov Covariance) (JointTest, error) {
	scale, df2 := 1.0, cov.DF
	if cov.cr2 != nil {
		eta := cov.cr2.degrees(f.toBasis(gradients))
		df2 = eta - test.DF + 1
		scale = df2 / eta
	}
	if !(df2 > 0) {
		return JointTest{}, fmt.Errorf("%w: %g columns are too many to test on these clusters", ErrNoData, test.DF)
	}
	test.Statistic, test.DF2 = scale*test.Statistic/test.DF, df2
	test.P = distuv.F{D1: test.DF, D2: df2}.Survival(test.Statistic)
	return test, nil
}

// LikelihoodRatio tests a model against one nested in it. Both must be fitted to the
// same patterns in the same order, with the same offsets and weights, and the
// columns of the nested one must be combinations of those of the full one; all this
// is checked. The negative binomial's theta is estimated on both sides. A penalised
// fit has ProfileTest instead. The law assumes independent observations: with
// clusters use WaldJoint.
func LikelihoodRatio(full, nested *Fit) (JointTest, error) {
	df := len(full.gamma) - len(nested.gamma)
	if full.Family != nested.Family || full.firth || nested.firth || df <= 0 {
		return JointTest{}, fmt.Errorf("%w: not two likelihood fits of one family, the first with more columns", ErrBadInput)
	}
	if !slices.Equal(full.data.Y, nested.data.Y) || !slices.Equal(full.data.Weight, nested.data.Weight) || !slices.Equal(full.data.Offset, nested.data.Offset) {
		return JointTest{}, fmt.Errorf("%w: models are fitted to different data", ErrBadInput)
	}
	if !full.spans(nested) {
		return JointTest{}, fmt.Errorf("%w: models are not nested", ErrBadInput)
	}
	out := chiSquareTest(2*(full.LogLik-nested.LogLik), df)
	out.Warnings = append(append(out.Warnings, full.Warnings...), nested.Warnings...)
	return out, nil
}

// spans says that the other design's columns are combinations of f's.
func (f *Fit) spans(other *Fit) bool {
	m, k := len(f.gamma), len(other.gamma)
	cross := mat.NewDense(m, k, nil)
	for i, w := range f.data.Weight {
		for a := range m {
			for b := range k {
				cross.Set(a, b, cross.At(a, b)+w*f.basis.q[i*m+a]*other.basis.q[i*k+b])
			}
		}
	}
	for b := range k {
		// Both bases are orthonormal: a column in the span keeps its unit length.
		if column := cross.ColView(b); !(mat.Dot(column, column) >= 1-aliasTolerance) {
			return false
		}
	}
	return true
}

// ScoreTest is Rao's test that columns left out of the model have coefficients zero,
// with expected information and without a fit of the larger model, so that it
// stands where that fit is separated. extra is row-major, one row per pattern in the
// order of the data; names label its columns. Theta is held at the fitted value. An
// aliased column, a separated fit and a penalised one are refused. The law assumes
// independent observations.
func (f *Fit) ScoreTest(names []string, extra []float64) (JointTest, error) {
	n, p, k := len(f.data.Y), len(f.Names), len(names)
	if k == 0 || len(extra) != n*k || len(f.Separated) > 0 || f.firth {
		return JointTest{}, fmt.Errorf("%w: score test of %d values for %d columns, or of a separated or penalised fit", ErrBadInput, len(extra), k)
	}
	x, info := make([]float64, 0, n*(p+k)), make([]float64, n)
	for i, v := range extra {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return JointTest{}, fmt.Errorf("%w: column %s is %g in row %d", ErrBadInput, names[i%k], v, i/k)
		}
	}
	for i, w := range f.data.Weight {
		x = append(append(x, f.data.X[i*p:i*p+p]...), extra[i*k:i*k+k]...)
		info[i] = w * f.terms[i].expected
	}
	b := newBasis(x, f.data.Weight, p+k)
	for _, j := range b.aliased {
		if j >= p {
			return JointTest{}, fmt.Errorf("%w: %s", ErrAliased, names[j-p])
		}
	}
	m := len(b.kept)
	score := mat.NewVecDense(m, nil)
	for i, w := range f.data.Weight {
		if w > 0 {
			score.AddScaledVec(score, w*f.terms[i].score, mat.NewVecDense(m, b.q[i*m:i*m+m]))
		}
	}
	inv, ok := inverseSym(crossWeighted(b.q, info, m))
	if !ok {
		return JointTest{}, fmt.Errorf("%w: information is singular", ErrNoData)
	}
	out := chiSquareTest(mat.Inner(score, inv, score), k)
	out.Warnings = append(out.Warnings, f.Warnings...)
	return out, nil
}
