package stats

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
)

// Standardised compares the mean outcome under two settings of the same people.
// Difference and Avoided are Exposed minus Reference, per observation and in all;
// the limits of Ratio are those of its logarithm, and Ratio.SE is on that scale.
type Standardised struct {
	Exposed, Reference, Difference, Ratio Effect
	Avoided                               float64
	Warnings                              []Warning
}

// Standardise averages predicted means over the data's weights with the design
// replaced by exposed and then by reference (row-major, shaped as the data's X),
// offsets kept; limits by the delta method from cov. They take the covariates as
// fixed and are withheld for a separated fit. Ratio is withheld too where a mean
// has underflowed to 0. A design that asks for what an aliased column's data cannot
// tell is an error. A negative binomial's means need not reproduce the observed total:
// prefer a Poisson fit with a robust covariance. Checked against the delta method
// written out in R, and a bootstrap.
func (f *Fit) Standardise(exposed, reference []float64, cov Covariance, level float64) (Standardised, error) {
	if err := checkLevel(level); err != nil {
		return Standardised{}, err
	}
	a, ga, err := f.meanUnder(exposed)
	if err != nil {
		return Standardised{}, err
	}
	r, gr, err := f.meanUnder(reference)
	if err != nil {
		return Standardised{}, err
	}
	effect := func(estimate float64, g *mat.VecDense) Effect {
		if len(f.Separated) > 0 {
			return waldEffect(estimate, math.Inf(1), cov.DF, level)
		}
		return f.contrast(estimate, g, cov, level)
	}
	var diff, logRatio mat.VecDense
	diff.SubVec(ga, gr)
	logRatio.ScaleVec(1/a, ga)
	logRatio.AddScaledVec(&logRatio, -1/r, gr)
	out := Standardised{
		Exposed: effect(a, ga), Reference: effect(r, gr), Difference: effect(a-r, &diff), Ratio: effect(math.Log(a/r), &logRatio),
		Avoided: (a - r) * f.weight, Warnings: append(append([]Warning{}, f.Warnings...), cov.Warnings...),
	}
	out.Ratio.Estimate = a / r
	out.Ratio.Limits = Interval{math.Exp(out.Ratio.Limits.Low), math.Exp(out.Ratio.Limits.High)}
	return out, nil
}

// meanUnder is the weighted mean prediction under a design and its gradient.
func (f *Fit) meanUnder(x []float64) (float64, *mat.VecDense, error) {
	p := len(f.Names)
	if len(x) != len(f.data.X) {
		return 0, nil, fmt.Errorf("%w: design of %d values, want %d", ErrBadInput, len(x), len(f.data.X))
	}
	if err := f.checkEstimable(x); err != nil {
		return 0, nil, err
	}
	mean, g := 0.0, make([]float64, p)
	for i, w := range f.data.Weight {
		eta := f.data.Offset[i]
		for _, j := range f.basis.kept {
			eta += f.Coef[j] * x[i*p+j]
		}
		t := f.Family.at(0, eta, f.alpha)
		if math.IsNaN(t.mu) || math.IsInf(t.mu, 0) {
			return 0, nil, fmt.Errorf("%w: prediction in row %d is %g", ErrBadInput, i, t.mu)
		}
		mean += w / f.weight * t.mu
		for _, j := range f.basis.kept {
			g[j] += w / f.weight * t.dmu * x[i*p+j]
		}
	}
	return mean, mat.NewVecDense(p, g), nil
}

// checkEstimable refuses a design in which an aliased column is not the combination
// of the columns before it that it is in the data.
func (f *Fit) checkEstimable(x []float64) error {
	p, m := len(f.Names), len(f.basis.kept)
	for _, j := range f.basis.aliased {
		onBasis := mat.NewVecDense(m, nil)
		for i, w := range f.data.Weight {
			for k, q := range f.basis.q[i*m : i*m+m] {
				onBasis.SetVec(k, onBasis.AtVec(k)+w*q*f.data.X[i*p+j])
			}
		}
		var share mat.VecDense
		share.MulVec(f.basis.rinv, onBasis)
		for i := range f.data.Weight {
			left, scale := x[i*p+j], math.Abs(x[i*p+j])
			for k, c := range f.basis.kept {
				left -= share.AtVec(k) * x[i*p+c]
				scale = math.Max(scale, math.Abs(share.AtVec(k)*x[i*p+c]))
			}
			if !(math.Abs(left) <= 1e-6*scale) {
				return fmt.Errorf("%w: row %d asks for column %s apart from those it is a combination of", ErrBadInput, i, f.Names[j])
			}
		}
	}
	return nil
}
