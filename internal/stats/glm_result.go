package stats

import (
	"fmt"
	"math"
	"strings"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"
)

// finish derives everything that depends on the final iterate.
func (f *Fit) finish() error {
	info := make([]float64, len(f.terms))
	var level float64
	f.LogLik = f.evaluate(f.gamma, f.terms)
	for i, w := range f.data.Weight {
		if w > 0 {
			info[i] = w * f.terms[i].expected
			f.LogLik += w * f.Family.constant(f.data.Y[i], f.alpha)
		}
		level += info[i]
	}
	m := len(f.gamma)
	cross := crossWeighted(f.basis.q, info, m)
	var ok bool
	if f.covQ, ok = inverseSym(cross); !ok {
		return fmt.Errorf("%w: information is singular at the estimate", ErrNoConvergence)
	}
	f.fillCoef()
	if !f.firth {
		f.findSeparation(cross, level/f.weight)
	}
	if f.Family == NegativeBinomial {
		f.finishDispersion()
	}
	return nil
}

// fillCoef carries the estimate from the basis back to the columns.
func (f *Fit) fillCoef() {
	f.Coef = make([]float64, len(f.Names))
	for j := range f.Coef {
		f.Coef[j] = math.NaN()
	}
	var c mat.VecDense
	c.MulVec(f.basis.rinv, mat.NewVecDense(len(f.gamma), f.gamma))
	for k, j := range f.basis.kept {
		f.Coef[j] = c.AtVec(k)
	}
}

func (f *Fit) finishDispersion() {
	if f.alpha == 0 {
		f.warn("no overdispersion", "the counts vary no more than a Poisson law allows; the Poisson fit is given")
		return
	}
	_, info := f.thetaScore(f.Theta)
	f.ThetaSE = 1 / math.Sqrt(info)
}

// findSeparation looks for a direction that has lost its information and names
// the columns that lie along it.
func (f *Fit) findSeparation(cross *mat.SymDense, level float64) {
	var e mat.EigenSym
	if !e.Factorize(cross, true) {
		return
	}
	var vectors mat.Dense
	e.VectorsTo(&vectors)
	m := len(f.gamma)
	along := make([]bool, m)
	for k, v := range e.Values(nil) {
		if v > separationShare*math.Max(level, 1/f.weight) {
			continue
		}
		var d mat.VecDense
		d.MulVec(f.basis.rinv, vectors.ColView(k))
		top := mat.Norm(&d, math.Inf(1))
		for j := range m {
			along[j] = along[j] || math.Abs(d.AtVec(j)) > 1e-3*top
		}
	}
	for k, yes := range along {
		if yes {
			f.Separated = append(f.Separated, f.Names[f.basis.kept[k]])
		}
	}
	if len(f.Separated) > 0 {
		f.warn("separation", "separation: the estimate is at infinity for "+strings.Join(f.Separated, ", ")+"; use a penalised fit or a likelihood-ratio test")
	}
}

// Covariance is a covariance matrix of the coefficients (columns in the order of
// Names) with the degrees of freedom for its tests, +Inf for the normal law.
type Covariance struct {
	Kind     string
	Matrix   *mat.SymDense
	DF       float64
	Warnings []Warning
}

// ModelCovariance is the inverse of the expected information.
func (f *Fit) ModelCovariance() Covariance {
	return Covariance{Kind: "model", Matrix: f.toColumns(f.covQ), DF: math.Inf(1)}
}

// toColumns carries a covariance from the basis to all columns.
func (f *Fit) toColumns(c mat.Symmetric) *mat.SymDense {
	var half, full mat.Dense
	half.Mul(f.basis.rinv, c)
	full.Mul(&half, f.basis.rinv.T())
	out := mat.NewSymDense(len(f.Names), nil)
	for a, i := range f.basis.kept {
		for b := a; b < len(f.basis.kept); b++ {
			out.SetSym(i, f.basis.kept[b], full.At(a, b))
		}
	}
	return out
}

// Effect is an estimate with standard error, limits and two-sided P value.
type Effect struct {
	Estimate, SE float64
	Limits       Interval
	P            float64
}

// Wald tests and bounds coefficient j at the given level. A separated or aliased
// column has limits (-Inf, +Inf), an infinite standard error and P = NaN.
func (f *Fit) Wald(j int, cov Covariance, level float64) (Effect, error) {
	if err := checkLevel(level); err != nil {
		return Effect{}, err
	}
	if j < 0 || j >= len(f.Names) {
		return Effect{}, fmt.Errorf("%w: column %d", ErrBadInput, j)
	}
	for _, name := range append(append([]string{}, f.Aliased...), f.Separated...) {
		if name == f.Names[j] {
			return Effect{f.Coef[j], math.Inf(1), Interval{math.Inf(-1), math.Inf(1)}, math.NaN()}, nil
		}
	}
	return waldEffect(f.Coef[j], math.Sqrt(cov.Matrix.At(j, j)), cov.DF, level), nil
}

// waldEffect uses Student's t with df degrees, the normal law where df is +Inf.
func waldEffect(estimate, se, df, level float64) Effect {
	q, p := intervalZ(level), math.Erfc(math.Abs(estimate/se)/math.Sqrt2)
	if !math.IsInf(df, 1) {
		t := distuv.StudentsT{Sigma: 1, Nu: df}
		q, p = t.Quantile((1+level)/2), 2*t.CDF(-math.Abs(estimate/se))
	}
	return Effect{estimate, se, Interval{estimate - q*se, estimate + q*se}, p}
}

// JointTest is a test of several coefficients at once.
type JointTest struct {
	Statistic, DF, P float64
}

func chiSquareTest(statistic float64, df int) JointTest {
	law := distuv.ChiSquared{K: float64(df)}
	return JointTest{statistic, float64(df), law.Survival(math.Max(statistic, 0))}
}

// WaldJoint tests that the named columns' coefficients are all zero, by the
// chi-squared law. Separated and aliased columns are refused.
func (f *Fit) WaldJoint(columns []int, cov Covariance) (JointTest, error) {
	b, v := make([]float64, len(columns)), mat.NewSymDense(max(len(columns), 1), nil)
	for a, j := range columns {
		e, err := f.Wald(j, cov, 0.95)
		if err != nil {
			return JointTest{}, err
		}
		if math.IsInf(e.SE, 1) {
			return JointTest{}, fmt.Errorf("%w: column %s has no Wald test", ErrBadInput, f.Names[j])
		}
		b[a] = e.Estimate
		for c := a; c < len(columns); c++ {
			v.SetSym(a, c, cov.Matrix.At(j, columns[c]))
		}
	}
	inv, ok := inverseSym(v)
	if len(columns) == 0 || !ok {
		return JointTest{}, fmt.Errorf("%w: no columns, or their covariance is singular", ErrBadInput)
	}
	x := mat.NewVecDense(len(b), b)
	return chiSquareTest(mat.Inner(x, inv, x), len(b)), nil
}

// LikelihoodRatio tests a model against one nested in it, fitted to the same data.
func LikelihoodRatio(full, nested *Fit) (JointTest, error) {
	df := len(full.gamma) - len(nested.gamma)
	if full.Family != nested.Family || full.weight != nested.weight || df <= 0 || full.firth != nested.firth {
		return JointTest{}, fmt.Errorf("%w: models are not nested", ErrBadInput)
	}
	return chiSquareTest(2*(full.LogLik-nested.LogLik), df), nil
}
