package stats

import (
	"fmt"
	"math"
	"strings"

	"gonum.org/v1/gonum/mat"
)

// CoxFit is a fitted proportional hazards model. Coef and the rows of covariances
// follow Names; an aliased column (constant in every stratum, or a combination of
// the columns before it, or without variation where events happen) has a NaN
// coefficient and zero variance. LogLik and NullLogLik are log partial likelihoods
// at the estimate and at zero; offsets are in both. Observations and Events are
// the sums of the counts.
type CoxFit struct {
	Names                []string
	Coef                 []float64
	LogLik, NullLogLik   float64
	Observations, Events float64
	Iterations           int
	Aliased, Monotone    []string
	Warnings             []Warning

	patterns CoxPatterns
	rows     []CoxRow
	index    *coxIndex
	centre   []float64 // column means by stratum
	offset   []float64
	linear   Fit // the view on basis, estimate and covariance that Wald tests need
	risk     *coxRisk
	score0   []float64
	info0    *mat.SymDense
	flat     float64 // coxFlat, or coxVague after a fit that could not end
}

const (
	// coxFlat is the share of the information at zero below which a direction is
	// taken to run to infinity, and coxFlatStop the share at which iteration ends:
	// the estimate has by then left any finite maximum that data can hold.
	coxFlat, coxFlatStop = 1e-8, 1e-11
	// coxVague is the share below which rounding may keep a fit from ending: an
	// estimate that far out, its standard error more than 100 times that at zero, is
	// not told from infinity.
	coxVague = 1e-4
	// centredTolerance is the share of a column's norm that must remain after its
	// stratum means are taken out; what is left below it is rounding.
	centredTolerance = 1e-11
	// eventsPerColumn is common practice (Peduzzi et al. 1995, J Clin Epidemiol 48:1503).
	eventsPerColumn = 10
	// idleTolerance is the same for the information at zero.
	idleTolerance = 1e-10
)

// FitCox maximises the partial likelihood of Cox (1972) with Efron's (1977) or
// Breslow's treatment of ties, by Newton's method with step-halving in
// orthonormal coordinates centred within strata. An iteration is one pass over the
// rows in order of time; its cost is rows x columns + patterns and event times x
// columns squared, whatever the ties. A count of n is n observations, tied if they
// have events.
//
// Aliased columns are dropped with Warning "aliased". Where the likelihood rises
// without end the fit stops, names the columns in Monotone with Warning "monotone
// likelihood", and withholds their Wald limits; the likelihood-ratio test holds.
// Below 10 events a column it carries Warning "few events": simulated 95 % Wald limits
// of a group of 30 % or more covered 95-97 % with 18 events and more, and 97 % with 12,
// where 1 fit in 40 was monotone.
// Where risks would have to lie further apart than numbers reach before the likelihood
// is flat, that is no convergence. Errors: ErrNoData without rows or events, ErrBadInput, ErrNoConvergence.
func FitCox(p CoxPatterns, rows []CoxRow, opt CoxOptions) (*CoxFit, error) {
	index, err := indexCox(p, rows, opt)
	if err != nil {
		return nil, err
	}
	f := &CoxFit{Names: p.Names, patterns: p, rows: rows, index: index, Observations: index.observations, Events: index.events}
	f.offset = orConstant(p.Offset, len(index.weight), 0)
	if err := f.chooseBasis(); err != nil {
		return nil, err
	}
	if err := f.iterate(); err != nil {
		return nil, err
	}
	return f, f.finish()
}

// chooseBasis drops columns that the data cannot tell apart, leaves risk and
// likelihood at zero, and names what was dropped.
func (f *CoxFit) chooseBasis() error {
	p := len(f.Names)
	x := f.centred()
	for {
		b := newBasis(x, f.index.weight, p)
		if len(b.kept) == 0 {
			return fmt.Errorf("%w: no column varies where events happen", ErrBadInput)
		}
		f.linear = Fit{Names: f.Names, basis: b, gamma: make([]float64, len(b.kept))}
		f.risk = newCoxRisk(f.index, b.q, len(b.kept))
		f.NullLogLik = f.evaluate(f.linear.gamma)
		if math.IsNaN(f.NullLogLik) || math.IsInf(f.NullLogLik, 0) {
			return fmt.Errorf("%w: offsets span too wide a range", ErrBadInput)
		}
		f.score0, f.info0 = f.risk.score(nil), f.risk.information(f.index, b.q, nil)
		idle := firstIdle(f.info0)
		if idle < 0 {
			break
		}
		for i := b.kept[idle]; i < len(x); i += p {
			x[i] = 0
		}
	}
	for _, j := range f.linear.basis.aliased {
		f.Aliased = append(f.Aliased, f.Names[j])
	}
	if len(f.Aliased) > 0 {
		f.warn("aliased", "columns dropped because they are constant, or combinations of the columns before them, wherever events happen: "+strings.Join(f.Aliased, ", "))
	}
	f.linear.Aliased = f.Aliased
	return nil
}

func (f *CoxFit) warn(code, text string) {
	f.Warnings = append(f.Warnings, Warning{Code: code, Text: text})
}

// centred is the design less its weighted mean per stratum, with columns that are
// constant within strata set to exact zeros.
func (f *CoxFit) centred() []float64 {
	p, x := len(f.Names), make([]float64, len(f.patterns.X))
	f.centre = make([]float64, len(f.index.labels)*p)
	total := make([]float64, len(f.index.labels))
	for j, w := range f.index.weight {
		s := f.index.stratum[j]
		total[s] += w
		addScaled(f.centre[s*p:s*p+p], w, f.patterns.X[j*p:])
	}
	for i := range f.centre {
		if t := total[i/p]; t > 0 {
			f.centre[i] /= t
		}
	}
	left, norm := make([]float64, p), make([]float64, p)
	for i, v := range f.patterns.X {
		j, k := i/p, i%p
		x[i] = v - f.centre[f.index.stratum[j]*p+k]
		left[k] += f.index.weight[j] * x[i] * x[i]
		norm[k] += f.index.weight[j] * v * v
	}
	for i := range x {
		if k := i % p; math.Sqrt(left[k]) <= centredTolerance*math.Sqrt(norm[k]) {
			x[i] = 0
		}
	}
	return x
}

// firstIdle is the first column on which, given those before it, the information
// is nil; -1 where there is none.
func firstIdle(info *mat.SymDense) int {
	m := info.SymmetricDim()
	top := 0.0
	for k := range m {
		top = math.Max(top, info.At(k, k))
	}
	l := mat.NewDense(m, m, nil)
	for k := range m {
		for i := k; i < m; i++ {
			v := info.At(i, k)
			for a := range k {
				v -= l.At(i, a) * l.At(k, a)
			}
			switch {
			case i > k:
				l.Set(i, k, v/l.At(k, k))
			case v <= idleTolerance*top:
				return k
			default:
				l.Set(k, k, math.Sqrt(v))
			}
		}
	}
	return -1
}

func (f *CoxFit) evaluate(gamma []float64) float64 {
	return f.risk.evaluate(f.index, f.linear.basis.q, f.offset, gamma)
}

// iterate leaves risk at the estimate. A fit that comes to grief where the likelihood
// is nearly flat goes back to its last sound place, and ends there as monotone.
func (f *CoxFit) iterate() error {
	f.LogLik, f.flat = f.NullLogLik, coxFlat
	sound, flattest := f.linear.gamma, 1.0
	for f.Iterations = 1; f.Iterations <= maxIterations; f.Iterations++ {
		at := f.linear.gamma
		share, done, err := f.newton()
		if share > 0 {
			sound, flattest = at, share
		}
		if err != nil && flattest < coxVague {
			f.linear.gamma, f.flat = sound, coxVague
			f.LogLik = f.evaluate(sound)
			return nil
		}
		if done || err != nil {
			return err
		}
	}
	return fmt.Errorf("%w: Cox model after %d iterations", ErrNoConvergence, maxIterations)
}

// newton takes one step, and gives the least share of information left before it (0
// where that cannot be had) and whether it was the last.
func (f *CoxFit) newton() (float64, bool, error) {
	info := f.risk.information(f.index, f.linear.basis.q, nil)
	shares, _ := f.flatness(info)
	inv, ok := inverseSym(info)
	switch {
	case len(shares) > 0 && shares[0] < coxFlatStop:
		return 0, true, nil
	case len(shares) == 0 || !ok:
		return 0, false, fmt.Errorf("%w: information is singular at iteration %d", ErrNoConvergence, f.Iterations)
	}
	score := f.risk.score(nil)
	var step mat.VecDense
	step.MulVec(inv, mat.NewVecDense(len(score), score))
	decrement := dot(step.RawVector().Data, score)
	if err := f.halve(step.RawVector().Data); err != nil {
		return shares[0], false, err
	}
	return shares[0], decrement <= decrementTolerance, nil
}

// halve takes the step, halved until the likelihood does not fall by more than
// rounding can explain.
func (f *CoxFit) halve(step []float64) error {
	next := make([]float64, len(step))
	for scale := 1.0; scale > 1e-12; scale /= 2 {
		for k := range step {
			next[k] = f.linear.gamma[k] + scale*step[k]
		}
		got := f.evaluate(next)
		if got >= f.LogLik-1e-12*(1+math.Abs(f.LogLik)) && !math.IsInf(got, 0) {
			f.linear.gamma, f.LogLik = next, got
			return nil
		}
	}
	return fmt.Errorf("%w: no step raises the likelihood at iteration %d", ErrNoConvergence, f.Iterations)
}

// flatness gives the information left along each of its own directions, as a share
// of that at zero, smallest first, with the directions as columns.
func (f *CoxFit) flatness(info *mat.SymDense) ([]float64, *mat.Dense) {
	var c mat.Cholesky
	if !c.Factorize(f.info0) || math.IsNaN(mat.Sum(info)) {
		return nil, nil
	}
	// The eigenvalues of L^-1 I L^-T, with L L' the information at zero.
	var l mat.TriDense
	c.LTo(&l)
	var linv mat.TriDense
	if err := linv.InverseTri(&l); err != nil {
		return nil, nil
	}
	var half, full mat.Dense
	half.Mul(&linv, info)
	full.Mul(&half, linv.T())
	m := info.SymmetricDim()
	relative := mat.NewSymDense(m, nil)
	for a := range m {
		for b := a; b < m; b++ {
			relative.SetSym(a, b, (full.At(a, b)+full.At(b, a))/2)
		}
	}
	var e mat.EigenSym
	if !e.Factorize(relative, true) {
		return nil, nil
	}
	var vectors, directions mat.Dense
	e.VectorsTo(&vectors)
	directions.Mul(linv.T(), &vectors)
	return e.Values(nil), &directions
}

// finish derives coefficients and covariance, and names monotone columns.
func (f *CoxFit) finish() error {
	l, m := &f.linear, len(f.linear.gamma)
	l.fillCoef()
	f.Coef = l.Coef
	info := f.risk.information(f.index, l.basis.q, nil)
	shares, directions := f.flatness(info)
	if len(shares) == 0 {
		return fmt.Errorf("%w: information is singular at the estimate", ErrNoConvergence)
	}
	// The covariance leaves out directions at infinity: for other columns that is
	// its limit, and for the columns along them nothing is reported.
	l.covQ = mat.NewSymDense(m, nil)
	along := make([]bool, m)
	for k, share := range shares {
		if v := directions.ColView(k); share > f.flat {
			l.covQ.SymRankOne(l.covQ, 1/share, v)
		} else {
			l.basis.markAlong(along, v)
		}
	}
	l.separate(along)
	f.Monotone = l.Separated
	if len(f.Monotone) > 0 {
		f.warn("monotone likelihood", "monotone likelihood: the estimate is at infinity, or too far out to be told from it, for "+strings.Join(f.Monotone, ", ")+"; use the likelihood-ratio test or join bands that have no events")
	}
	if p := float64(len(l.gamma)); f.Events < eventsPerColumn*p {
		f.warn("few events", fmt.Sprintf("only %.0f events for %.0f columns: Wald limits are rough; %.0f events or more would mend it", f.Events, p, eventsPerColumn*p))
	}
	l.data.Weight = make([]float64, len(f.rows))
	for i, r := range f.rows {
		l.data.Weight[i] = r.Count
		l.weight += r.Count
	}
	return nil
}
