package stats

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"
)

// FitFirth fits a logistic model by Firth's (1993) penalised likelihood, loglik +
// log|I|/2, whose estimates are finite under separation (Heinze & Schemper 2002).
// LogLik is the penalised one in the coordinates of the columns; covariance is the
// inverse information. ProfileLimits gives the limits to report. Below 16 of the
// rarer outcome it carries Warning "few events": simulated 95 % profile limits for
// one of two equal groups covered 96 to 100 % with 2 to 8 events expected and 94 to
// 97 % with 12 to 40, among 200 and 2,000, ratios 1 and 3. ProfileLimits and
// ProfileTest take observations as independent.
func FitFirth(data Patterns, options ...FitOption) (*Fit, error) {
	f, err := newFit(Logistic, data, options)
	if err != nil {
		return nil, err
	}
	f.firth = true
	f.terms = make([]terms, len(f.data.Y))
	if _, err := f.climb(nil); err != nil {
		return nil, err
	}
	if err := f.finish(); err != nil {
		return nil, err
	}
	// |X'WX| = |R|^2 |Q'WQ|, and log|R| is what the basis left out.
	f.LogLik = f.penalised(f.gamma, f.terms)
	for k := range f.gamma {
		f.LogLik -= math.Log(math.Abs(f.basis.rinv.At(k, k)))
	}
	events := 0.0
	for i, w := range f.data.Weight {
		events += w * f.data.Y[i]
	}
	if rarer := math.Min(events, f.weight-events); rarer < fewEvents {
		f.warn("few events", fmt.Sprintf("only %.0f of the rarer outcome: with so few, limits tend to be wider than their level says", rarer))
	}
	return f, nil
}

// fewEvents is the count of the rarer outcome below which limits may be conservative.
const fewEvents = 16

// firthIterations allows for steps that shrink by a tenth only, as on a few separated
// observations.
const firthIterations = 20 * maxIterations

// penalised is the penalised log-likelihood in the basis; -Inf where the
// information is singular.
func (f *Fit) penalised(gamma []float64, out []terms) float64 {
	ll := f.evaluate(gamma, out)
	var c mat.Cholesky
	if !c.Factorize(f.information(out)) {
		return math.Inf(-1)
	}
	return ll + c.LogDet()/2
}

func (f *Fit) information(t []terms) *mat.SymDense {
	v := make([]float64, len(t))
	for i, w := range f.data.Weight {
		v[i] = w * t[i].expected
	}
	return crossWeighted(f.basis.q, v, len(f.gamma))
}

// climb maximises the penalised likelihood from gamma. With direction a given it stays in the plane across a, so that a'gamma is held.
func (f *Fit) climb(across []float64) (float64, error) {
	spare, next := make([]terms, len(f.terms)), make([]float64, len(f.gamma))
	value := f.penalised(f.gamma, f.terms)
	for f.Iterations = 1; f.Iterations <= firthIterations; f.Iterations++ {
		step, decrement, err := f.firthStep(across)
		if err != nil {
			return 0, err
		}
		scale := 1.0
		for ; scale > 1e-12; scale /= 2 {
			for k := range next {
				next[k] = f.gamma[k] + scale*step[k]
			}
			if f.penalised(next, spare) >= value-1e-11*(1+math.Abs(value)) {
				break
			}
		}
		copy(f.gamma, next)
		value = f.penalised(f.gamma, f.terms)
		// The steps converge linearly, hence below Newton's tolerance.
		if decrement <= 1e-20 {
			return value, nil
		}
	}
	return 0, fmt.Errorf("%w: penalised fit after %d iterations", ErrNoConvergence, firthIterations)
}

// firthStep is a step on Firth's modified score, sum of w (y - p + h (1/2 - p)) q with
// h one observation's leverage. The information that it divides by counts every
// observation 1+h times, as that score does: with each counted once, a step is twice
// too long at leverage 1 and swings about the estimate for ever.
func (f *Fit) firthStep(across []float64) ([]float64, float64, error) {
	m := len(f.gamma)
	inv, ok := inverseSym(f.information(f.terms))
	if !ok {
		return nil, 0, fmt.Errorf("%w: information is singular", ErrNoConvergence)
	}
	score, counted := mat.NewVecDense(m, nil), make([]float64, len(f.terms))
	for i, w := range f.data.Weight {
		if w == 0 {
			continue
		}
		q, t := mat.NewVecDense(m, f.basis.q[i*m:i*m+m]), f.terms[i]
		h := t.expected * mat.Inner(q, inv, q)
		counted[i] = w * t.expected * (1 + h)
		score.AddScaledVec(score, w*(t.score+h*(0.5-t.mu)), q)
	}
	if inv, ok = inverseSym(crossWeighted(f.basis.q, counted, m)); !ok {
		return nil, 0, fmt.Errorf("%w: information is singular", ErrNoConvergence)
	}
	var step mat.VecDense
	step.MulVec(inv, score)
	if across != nil {
		// Least step in the metric of the information with a'step = 0.
		var va mat.VecDense
		a := mat.NewVecDense(m, across)
		va.MulVec(inv, a)
		lambda := mat.Dot(a, &step) / mat.Dot(a, &va)
		step.AddScaledVec(&step, -lambda, &va)
		score.AddScaledVec(score, -lambda, a) // else the decrement is all rounding
	}
	return step.RawVector().Data, math.Abs(mat.Dot(&step, score)), nil
}

// ProfileLimits are limits for coefficient j from the profile of the penalised
// likelihood: where twice its fall reaches the chi-squared quantile. A limit not
// found within 50 standard errors is infinite.
func (f *Fit) ProfileLimits(j int, level float64) (Interval, error) {
	if err := checkLevel(level); err != nil {
		return Interval{}, err
	}
	row, err := f.profileRow(j)
	if err != nil {
		return Interval{}, err
	}
	a := append([]float64{}, f.basis.rinv.RawRowView(row)...)
	top := f.penalised(f.gamma, make([]terms, len(f.terms)))
	cut := distuv.ChiSquared{K: 1}.Quantile(level) / 2
	se := math.Sqrt(f.toColumns(f.covQ).At(j, j))
	fall := func(shift float64) (float64, error) { return f.profileFall(a, shift, top-cut) }
	low, err := crossing(fall, -se)
	if err != nil {
		return Interval{}, err
	}
	high, err := crossing(fall, se)
	return Interval{f.Coef[j] + low, f.Coef[j] + high}, err
}

// profileRow is the place of column j in the basis.
func (f *Fit) profileRow(j int) (int, error) {
	row := slices.Index(f.basis.kept, j)
	if !f.firth || row < 0 {
		return 0, fmt.Errorf("%w: column %d of this fit has no profile", ErrBadInput, j)
	}
	return row, nil
}

// ProfileTest is the penalised likelihood-ratio test that coefficient j is zero
// (Heinze & Schemper 2002): it agrees with ProfileLimits on what they exclude.
func (f *Fit) ProfileTest(j int) (JointTest, error) {
	row, err := f.profileRow(j)
	if err != nil {
		return JointTest{}, err
	}
	top := f.penalised(f.gamma, make([]terms, len(f.terms)))
	fall, err := f.profileFall(f.basis.rinv.RawRowView(row), -f.Coef[j], top)
	if err != nil {
		return JointTest{}, err
	}
	return chiSquareTest(2*fall, 1), nil
}

// profileFall is positive once the profile at a'gamma + shift lies below target.
func (f *Fit) profileFall(a []float64, shift, target float64) (float64, error) {
	g := *f
	g.gamma, g.terms = append([]float64{}, f.gamma...), make([]terms, len(f.terms))
	// Start along the direction that keeps the likelihood highest to second order.
	var va mat.VecDense
	av := mat.NewVecDense(len(a), a)
	va.MulVec(f.covQ, av)
	for k := range g.gamma {
		g.gamma[k] += shift * va.AtVec(k) / mat.Dot(av, &va)
	}
	v, err := g.climb(a)
	return target - v, err
}

// crossing finds where fall turns positive from 0 in steps of se, then by regula
// falsi with the Illinois rule (Dowell & Jarratt 1971), by halving where a value is infinite.
func crossing(fall func(float64) (float64, error), se float64) (float64, error) {
	inner, outer := 0.0, se
	below, err := fall(inner)
	if err != nil {
		return 0, err
	}
	above, err := fall(outer)
	for ; err == nil && !(above > 0); above, err = fall(outer) {
		if inner, below, outer = outer, above, outer+se; math.Abs(outer) > 50*math.Abs(se) {
			return math.Inf(int(math.Copysign(1, se))), nil
		}
	}
	for side := 0; err == nil && math.Abs(outer-inner) > 1e-10*math.Abs(se); {
		mid := inner + (outer-inner)*below/(below-above)
		if math.IsInf(above, 1) || math.IsNaN(mid) {
			mid = (inner + outer) / 2
		}
		var v float64
		if v, err = fall(mid); err != nil || math.Abs(v) < 1e-11 {
			return mid, err
		}
		if v > 0 {
			if outer, above = mid, v; side > 0 {
				below /= 2
			}
			side = 1
			continue
		}
		if inner, below = mid, v; side < 0 {
			above /= 2
		}
		side = -1
	}
	return (inner + outer) / 2, err
}
