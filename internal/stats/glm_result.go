package stats

import (
	"fmt"
	"math"
	"slices"
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
	f.fillCoef()
	if !f.firth && !f.findSeparation(cross, level/f.weight) {
		return fmt.Errorf("%w: eigenvalues of the information", ErrNoConvergence)
	}
	if len(f.Separated) == 0 {
		var ok bool
		if f.covQ, ok = inverseSym(cross); !ok {
			return fmt.Errorf("%w: information is singular at the estimate", ErrNoConvergence)
		}
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

// findSeparation looks for directions that have lost their information and names
// the columns that lie along them. The covariance is then taken over the other
// directions: for the columns that are not named this is its limit, free of the
// rounding that variances near infinity would bring in. False where the eigenvalues
// cannot be had.
func (f *Fit) findSeparation(cross *mat.SymDense, level float64) bool {
	var e mat.EigenSym
	if math.IsNaN(mat.Sum(cross)) || math.IsInf(mat.Sum(cross), 0) || !e.Factorize(cross, true) {
		return false
	}
	var vectors mat.Dense
	e.VectorsTo(&vectors)
	m := len(f.gamma)
	along := make([]bool, m)
	f.covQ = mat.NewSymDense(m, nil)
	for k, v := range e.Values(nil) {
		if v > separationShare*math.Max(level, 1/f.weight) {
			f.covQ.SymRankOne(f.covQ, 1/v, vectors.ColView(k))
			continue
		}
		f.basis.markAlong(along, vectors.ColView(k))
	}
	f.separate(along)
	if len(f.Separated) > 0 {
		f.warn("separation", "separation: the estimate is at infinity for "+strings.Join(f.Separated, ", ")+"; use a penalised fit or a likelihood-ratio test")
	}
	return true
}

// separate names the kept columns that are marked.
func (f *Fit) separate(along []bool) {
	for k, yes := range along {
		if yes {
			f.separated = append(f.separated, f.basis.kept[k])
			f.Separated = append(f.Separated, f.Names[f.basis.kept[k]])
		}
	}
}

// Covariance is a covariance matrix of the coefficients (columns in the order of
// Names) with the degrees of freedom for its tests, +Inf for the normal law.
type Covariance struct {
	Kind     string
	Matrix   *mat.SymDense
	DF       float64
	Warnings []Warning

	cr2 *cr2 // set where the degrees of freedom depend on the contrast
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

// QuasiCovariance is the model covariance times the Pearson dispersion, with n-p
// degrees of freedom, as for a quasi-Poisson model; an error where
// PearsonDispersion is one.
func (f *Fit) QuasiCovariance() (Covariance, error) {
	phi, err := f.PearsonDispersion()
	if err != nil {
		return Covariance{}, err
	}
	return Covariance{Kind: "quasi", Matrix: scaledSym(phi, f.toColumns(f.covQ)), DF: f.weight - float64(len(f.gamma))}, nil
}

// PearsonDispersion is the sum of squared Pearson residuals over n-p, about 1 where
// the family's variance holds. Counts only: over single yes/no outcomes it says
// nothing (McCullagh & Nelder 1989, 4.5). n is the total weight and must exceed p.
func (f *Fit) PearsonDispersion() (float64, error) {
	left := f.weight - float64(len(f.gamma))
	if f.Family == Logistic || !(left > 0) {
		return 0, fmt.Errorf("%w: no dispersion for yes/no outcomes or without degrees of freedom", ErrBadInput)
	}
	sum := 0.0
	for i, w := range f.data.Weight {
		// A pattern whose mean has underflowed to 0 is met exactly.
		if t := f.terms[i]; w > 0 && t.expected > 0 {
			sum += w * t.score * (t.score / t.expected)
		}
	}
	return sum / left, nil
}

// Effect is an estimate with standard error, limits and two-sided P value. DF are
// the degrees of freedom that limits and P rest on, +Inf for the normal law; below
// 4 even corrected limits are shaky (Pustejovsky & Tipton 2018). A withheld effect
// has SE = +Inf, limits (-Inf, +Inf) and P = NaN.
type Effect struct {
	Estimate, SE float64
	Limits       Interval
	P, DF        float64
}

// Wald tests and bounds coefficient j at the given level. For a separated or aliased
// column the effect is withheld.
func (f *Fit) Wald(j int, cov Covariance, level float64) (Effect, error) {
	if err := checkLevel(level); err != nil {
		return Effect{}, err
	}
	if j < 0 || j >= len(f.Names) {
		return Effect{}, fmt.Errorf("%w: column %d", ErrBadInput, j)
	}
	if f.withheld(j) {
		return waldEffect(f.Coef[j], math.Inf(1), cov.DF, level), nil
	}
	gradient := mat.NewVecDense(len(f.Names), nil)
	gradient.SetVec(j, 1)
	return f.contrast(f.Coef[j], gradient, cov, level), nil
}

// withheld says that column j has no finite estimate or none at all.
func (f *Fit) withheld(j int) bool {
	return slices.Contains(f.basis.aliased, j) || slices.Contains(f.separated, j)
}

// metExactly is the share of the model's variance below which a robust one is taken
// for rounding: the model meets the outcomes exactly and their spread is unknown.
const metExactly = 1e-16

// contrast is the effect with the given gradient in the coefficients. It is withheld
// where the covariance has no information on it.
func (f *Fit) contrast(estimate float64, gradient *mat.VecDense, cov Covariance, level float64) Effect {
	onBasis := f.toBasis(gradient)
	model := mat.Inner(onBasis.ColView(0), f.covQ, onBasis.ColView(0))
	if model == 0 && estimate == 0 {
		return Effect{P: 1, DF: cov.DF} // a comparison of equals
	}
	variance := mat.Inner(gradient, cov.Matrix, gradient)
	if !(variance > metExactly*model) {
		return waldEffect(estimate, math.Inf(1), cov.DF, level)
	}
	df := cov.DF
	if cov.cr2 != nil {
		df = cov.cr2.degrees(onBasis)
	}
	return waldEffect(estimate, math.Sqrt(variance), df, level)
}

// toBasis carries gradients (columns of g, over all Names) to the basis.
func (f *Fit) toBasis(g mat.Matrix) *mat.Dense {
	_, q := g.Dims()
	kept := mat.NewDense(len(f.basis.kept), q, nil)
	for k, j := range f.basis.kept {
		for a := range q {
			kept.Set(k, a, g.At(j, a))
		}
	}
	var out mat.Dense
	out.Mul(f.basis.rinv.T(), kept)
	return &out
}

// waldEffect uses Student's t with df degrees, the normal law where df is +Inf, and
// withholds where the standard error or df is not a finite positive number.
func waldEffect(estimate, se, df, level float64) Effect {
	if !(se < math.Inf(1)) || !(df > 0) {
		return Effect{estimate, math.Inf(1), Interval{math.Inf(-1), math.Inf(1)}, math.NaN(), df}
	}
	q, p := intervalZ(level), math.Erfc(math.Abs(estimate/se)/math.Sqrt2)
	if !math.IsInf(df, 1) {
		t := distuv.StudentsT{Sigma: 1, Nu: df}
		q, p = t.Quantile((1+level)/2), 2*t.CDF(-math.Abs(estimate/se))
	}
	return Effect{estimate, se, Interval{estimate - q*se, estimate + q*se}, p, df}
}
