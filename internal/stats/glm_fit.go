package stats

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"gonum.org/v1/gonum/mat"
)

// Patterns is a data set collapsed to its distinct rows: row i stands for
// Weight[i] observations that share design row, offset and outcome. X is
// row-major with one column per name, intercept included. A nil Offset is zero
// and a nil Weight is one. Rows of weight 0 are allowed and add nothing.
type Patterns struct {
	Names                []string
	X, Y, Offset, Weight []float64
}

// Fit is a fitted model. Coef and the rows of covariances follow Names; an
// aliased column (a combination of the columns before it) has a NaN coefficient
// and zero variance. Theta is the NB2 size, +Inf for the other families and
// where the data show no overdispersion. LogLik is complete, constants included.
type Fit struct {
	Family             Family
	Names              []string
	Coef               []float64
	Theta, ThetaSE     float64
	LogLik             float64
	Iterations         int
	Aliased, Separated []string
	Warnings           []Warning

	firth     bool
	data      Patterns
	basis     basis
	gamma     []float64 // coefficients in the basis
	alpha     float64
	terms     []terms
	covQ      *mat.SymDense // inverse expected information in the basis
	weight    float64       // observations
	separated []int         // places of Separated
}

const (
	maxIterations = 200
	// Newton stops when the next step is 1e-8 standard errors long; that step is
	// still taken, so the error left is of the order of its square.
	decrementTolerance = 1e-16
	// separationShare is the information left in some direction, as a share of that
	// at the common mean, below which the estimate is taken to be at infinity.
	separationShare = 1e-8
)

// FitGLM fits by maximum likelihood: Newton's method with step-halving in
// weighted-orthonormal coordinates, for the negative binomial in turn with
// Newton's method for the dispersion. Standard errors of the negative binomial
// take theta as known, as R's MASS::glm.nb does (Venables & Ripley 2002, 7.4).
// Aliased columns are dropped with Warning "aliased", or are an error with option
// AliasIsError; separation gives Warning "separation", and Wald limits of the
// columns concerned are withheld.
func FitGLM(family Family, data Patterns, options ...FitOption) (*Fit, error) {
	f, err := newFit(family, data, options)
	if err != nil {
		return nil, err
	}
	if err := f.iterate(); err != nil {
		return nil, err
	}
	return f, f.finish()
}

// FitOption changes how FitGLM and FitFirth treat the design.
type FitOption int

// AliasIsError refuses a design with a column that is a combination of the columns
// before it; the error wraps ErrAliased and names the columns.
const AliasIsError FitOption = 1

// ErrAliased means that columns of a design are combinations of those before them.
var ErrAliased = errors.New("aliased columns")

// newFit checks the data, copies nothing but the defaults, and starts at the mean.
func newFit(family Family, data Patterns, options []FitOption) (*Fit, error) {
	data, total, err := checkPatterns(family, data)
	if err != nil {
		return nil, err
	}
	f := &Fit{Family: family, Names: data.Names, data: data, weight: total, Theta: math.Inf(1)}
	f.basis = newBasis(data.X, data.Weight, len(data.Names))
	if len(f.basis.kept) == 0 {
		return nil, fmt.Errorf("%w: every column is zero", ErrBadInput)
	}
	for _, j := range f.basis.aliased {
		f.Aliased = append(f.Aliased, data.Names[j])
	}
	if len(f.Aliased) > 0 && slices.Contains(options, AliasIsError) {
		return nil, fmt.Errorf("%w: %s", ErrAliased, strings.Join(f.Aliased, ", "))
	}
	if len(f.Aliased) > 0 {
		f.warn("aliased", "columns dropped as combinations of the columns before them: "+strings.Join(f.Aliased, ", "))
	}
	f.gamma = make([]float64, len(f.basis.kept))
	f.start()
	return f, nil
}

// checkPatterns fills defaults and refuses what no family can take.
func checkPatterns(family Family, d Patterns) (Patterns, float64, error) {
	n := len(d.Y)
	d.Offset, d.Weight = orConstant(d.Offset, n, 0), orConstant(d.Weight, n, 1)
	if family < Poisson || family > Logistic {
		return d, 0, fmt.Errorf("%w: family %d", ErrBadInput, family)
	}
	if len(d.Names) == 0 || len(d.X) != n*len(d.Names) || len(d.Offset) != n || len(d.Weight) != n {
		return d, 0, fmt.Errorf("%w: lengths of names, design, offset or weight differ", ErrBadInput)
	}
	for i, v := range d.X {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return d, 0, fmt.Errorf("%w: column %s is %g in row %d", ErrBadInput, d.Names[i%len(d.Names)], v, i/len(d.Names))
		}
	}
	total := 0.0
	for i := range n {
		if err := checkOutcome(family, d.Y[i], d.Offset[i], d.Weight[i]); err != nil {
			return d, 0, fmt.Errorf("row %d: %w", i, err)
		}
		total += d.Weight[i]
	}
	if total == 0 {
		return d, 0, ErrNoData
	}
	return d, total, nil
}

// orConstant returns v, or n copies of c where v is nil.
func orConstant(v []float64, n int, c float64) []float64 {
	if v != nil {
		return v
	}
	v = make([]float64, n)
	for i := range v {
		v[i] = c
	}
	return v
}

func checkOutcome(family Family, y, offset, weight float64) error {
	switch {
	case math.IsNaN(offset) || math.IsInf(offset, 0):
		return fmt.Errorf("%w: offset %g", ErrBadInput, offset)
	case !(weight >= 0) || math.IsInf(weight, 0):
		return fmt.Errorf("%w: weight %g", ErrBadInput, weight)
	case !(y >= 0) || math.IsInf(y, 0):
		return fmt.Errorf("%w: outcome %g", ErrBadInput, y)
	case family == Logistic && y != 0 && y != 1:
		return fmt.Errorf("%w: outcome %g is neither 0 nor 1", ErrBadInput, y)
	case family == NegativeBinomial && y != math.Trunc(y):
		return fmt.Errorf("%w: outcome %g is not whole", ErrBadInput, y)
	}
	return nil
}

// start projects the common mean's linear predictor, less the offset, on the
// basis, so that a model with an intercept starts at its null fit.
func (f *Fit) start() {
	d, m := f.data, len(f.gamma)
	var events, exposure float64
	for i, w := range d.Weight {
		events += w * d.Y[i]
		exposure += w * math.Exp(d.Offset[i])
	}
	level := math.Log((events + 0.5) / exposure)
	if f.Family == Logistic {
		level = math.Log((events + 0.5) / (f.weight - events + 0.5))
	}
	for i, w := range d.Weight {
		for k := range m {
			f.gamma[k] += w * level * f.basis.q[i*m+k]
		}
	}
}

// evaluate fills terms at gamma and returns the log-likelihood without constants.
func (f *Fit) evaluate(gamma []float64, out []terms) float64 {
	m, sum := len(gamma), 0.0
	for i, w := range f.data.Weight {
		if w == 0 {
			continue
		}
		eta := f.data.Offset[i] + dot(gamma, f.basis.q[i*m:i*m+m])
		out[i] = f.Family.at(f.data.Y[i], eta, f.alpha)
		sum += w * out[i].loglik
	}
	return sum
}

// iterate alternates Newton steps for the coefficients and, where there is one,
// the dispersion, until both are still.
func (f *Fit) iterate() error {
	f.terms = make([]terms, len(f.data.Y))
	spare := make([]terms, len(f.data.Y))
	ll := f.evaluate(f.gamma, f.terms)
	for f.Iterations = 1; f.Iterations <= maxIterations; f.Iterations++ {
		step, decrement, err := f.newtonStep()
		if err != nil {
			return err
		}
		if ll, spare, err = f.halve(step, ll, spare); err != nil {
			return err
		}
		still := decrement <= decrementTolerance
		if f.Family == NegativeBinomial && (still || f.alpha > 0) {
			moved := f.updateAlpha()
			ll = f.evaluate(f.gamma, f.terms)
			still = still && !moved
		}
		if still {
			return nil
		}
	}
	return fmt.Errorf("%w: model after %d iterations", ErrNoConvergence, maxIterations)
}

// newtonStep solves for the step and returns the squared Newton decrement.
func (f *Fit) newtonStep() ([]float64, float64, error) {
	m := len(f.gamma)
	info, score := make([]float64, len(f.terms)), make([]float64, m)
	for i, w := range f.data.Weight {
		info[i] = w * f.terms[i].observed
		s := w * f.terms[i].score
		for k, q := range f.basis.q[i*m : i*m+m] {
			score[k] += s * q
		}
	}
	inv, ok := inverseInformation(crossWeighted(f.basis.q, info, m))
	if !ok {
		return nil, 0, fmt.Errorf("%w: information is singular at iteration %d", ErrNoConvergence, f.Iterations)
	}
	var step mat.VecDense
	step.MulVec(inv, mat.NewVecDense(m, score))
	return step.RawVector().Data, dot(step.RawVector().Data, score), nil
}

// halve takes the step, halved until the log-likelihood does not fall by more
// than rounding can explain.
func (f *Fit) halve(step []float64, ll float64, spare []terms) (float64, []terms, error) {
	next := make([]float64, len(step))
	for scale := 1.0; scale > 1e-12; scale /= 2 {
		for k := range step {
			next[k] = f.gamma[k] + scale*step[k]
		}
		got := f.evaluate(next, spare)
		if got >= ll-1e-10*(1+math.Abs(ll)) && !math.IsInf(got, 0) {
			f.gamma = next
			f.terms, spare = spare, f.terms
			return got, spare, nil
		}
	}
	return ll, spare, fmt.Errorf("%w: no step raises the likelihood at iteration %d", ErrNoConvergence, f.Iterations)
}

func (f *Fit) warn(code, text string) {
	f.Warnings = append(f.Warnings, Warning{Code: code, Text: text})
}
