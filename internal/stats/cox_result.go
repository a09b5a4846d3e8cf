package stats

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
)

// ModelCovariance is the inverse of the observed information.
func (f *CoxFit) ModelCovariance() Covariance { return f.linear.ModelCovariance() }

// Wald tests and bounds coefficient j (a log hazard ratio) at the given level. For a
// monotone or aliased column the limits are infinite and P is NaN.
func (f *CoxFit) Wald(j int, cov Covariance, level float64) (Effect, error) {
	return f.linear.Wald(j, cov, level)
}

// WaldJoint tests that the coefficients of the given columns are all zero. Monotone
// and aliased columns are refused.
func (f *CoxFit) WaldJoint(columns []int, cov Covariance) (JointTest, error) {
	return f.linear.WaldJoint(columns, cov)
}

// ScoreTest tests that every coefficient is zero, from the derivatives at zero; for
// one group column and no ties it is the log-rank test.
func (f *CoxFit) ScoreTest() (JointTest, error) {
	inv, ok := inverseSym(f.info0)
	if !ok {
		return JointTest{}, fmt.Errorf("%w: information at zero is singular", ErrNoConvergence)
	}
	u := mat.NewVecDense(len(f.score0), f.score0)
	return chiSquareTest(mat.Inner(u, inv, u), len(f.score0)), nil
}

// LikelihoodRatio tests that every coefficient is zero. It holds under monotone
// likelihood too, where the maximum is approached to rounding.
func (f *CoxFit) LikelihoodRatio() JointTest {
	return chiSquareTest(2*(f.LogLik-f.NullLogLik), len(f.linear.gamma))
}

// CoxLikelihoodRatio tests a model against one nested in it, fitted to the same
// observations, strata, offsets and ties; it refuses what shows that they differ.
func CoxLikelihoodRatio(full, nested *CoxFit) (JointTest, error) {
	df := len(full.linear.gamma) - len(nested.linear.gamma)
	same := full.Observations == nested.Observations && full.Events == nested.Events &&
		full.index.opt == nested.index.opt && almostSame(full.NullLogLik, nested.NullLogLik)
	if df <= 0 || !same {
		return JointTest{}, fmt.Errorf("%w: models are not nested", ErrBadInput)
	}
	return chiSquareTest(2*(full.LogLik-nested.LogLik), df), nil
}

// almostSame allows for the rounding of two sums taken in different order.
func almostSame(a, b float64) bool {
	return math.Abs(a-b) <= 1e-9*math.Max(1, math.Abs(b))
}

// HazardPoint is a baseline cumulative hazard just after one event time.
type HazardPoint struct {
	Stratum          int
	Time, Cumulative float64
}

// BaselineHazard is the cumulative hazard of an observation with the given design
// row and offset 0, at every event time, by stratum in ascending order of label.
// Ties are treated as in the fit (with Efron: a sum over the steps of a tie), as R's
// basehaz does. exp(-Cumulative) is the survival probability. An aliased column
// counts as 0. Where x lies far from the data the result may overflow to +Inf.
func (f *CoxFit) BaselineHazard(x []float64) ([]HazardPoint, error) {
	p := len(f.Names)
	if len(x) != p {
		return nil, fmt.Errorf("%w: design row of %d columns for %d", ErrBadInput, len(x), p)
	}
	factor := make([]float64, len(f.index.labels))
	for s := range factor {
		eta := -f.risk.shift[s]
		for _, j := range f.linear.basis.kept {
			eta += f.Coef[j] * (x[j] - f.centre[s*p+j])
		}
		if math.IsNaN(eta) {
			return nil, fmt.Errorf("%w: design row is not finite", ErrBadInput)
		}
		factor[s] = math.Exp(eta)
	}
	total := f.index.cumulate(func(t int) float64 { return f.risk.one[t] * f.risk.inverse[t] })
	out := make([]HazardPoint, len(total.from))
	for t, v := range total.from {
		s := f.index.timeStratum[t]
		out[t] = HazardPoint{f.index.labels[s], f.index.times[t], v * factor[s]}
	}
	return out, nil
}
