package stats

import (
	"fmt"
	"math"
	"sort"

	"gonum.org/v1/gonum/mat"
)

// SplineProbabilities are Harrell's places for four knots (Regression Modeling
// Strategies, 2nd ed., table 2.3: 5, 35, 65 and 95 %).
var SplineProbabilities = []float64{0.05, 0.35, 0.65, 0.95}

// SplineKnots are type-7 quantiles of values counted by whole weights.
func SplineKnots(x, weight, probabilities []float64) ([]float64, error) {
	if len(x) == 0 || len(x) != len(weight) {
		return nil, fmt.Errorf("%w: %d values, %d weights", ErrBadInput, len(x), len(weight))
	}
	order, total := make([]int, len(x)), 0.0
	for i, w := range weight {
		if math.IsNaN(x[i]) || math.IsInf(x[i], 0) || !(w >= 0) || w != math.Trunc(w) {
			return nil, fmt.Errorf("%w: value %g counted %g times", ErrBadInput, x[i], w)
		}
		order[i], total = i, total+w
	}
	if total == 0 {
		return nil, ErrNoData
	}
	sort.Slice(order, func(a, b int) bool { return x[order[a]] < x[order[b]] })
	at := func(rank float64) float64 {
		seen := 0.0
		for _, i := range order {
			if seen += weight[i]; seen > rank {
				return x[i]
			}
		}
		return x[order[len(order)-1]]
	}
	var knots []float64
	for _, p := range probabilities {
		if err := checkProbability("knot", p); err != nil {
			return nil, err
		}
		h := (total - 1) * p
		low := at(math.Floor(h))
		knots = append(knots, low+(h-math.Floor(h))*(at(math.Floor(h)+1)-low))
	}
	return knots, nil
}

// SplineBasis is Harrell's restricted cubic spline at x: x itself, then one term
// for each knot but the last two, divided by the square of the knots' span so that
// all terms have the unit of x (norm = 2 of R's Hmisc::rcspline.eval). Knots must
// rise strictly, three at least.
func SplineBasis(x float64, knots []float64) ([]float64, error) {
	k := len(knots)
	if k < 3 || math.IsNaN(x) || math.IsInf(x, 0) {
		return nil, fmt.Errorf("%w: spline at %g with %d knots, three are needed", ErrBadInput, x, k)
	}
	for i := 1; i < k; i++ {
		if !(knots[i] > knots[i-1]) || math.IsInf(knots[i]-knots[i-1], 0) {
			return nil, fmt.Errorf("%w: knots do not rise at %g", ErrBadInput, knots[i])
		}
	}
	cube := func(t float64) float64 { t = math.Max(x-t, 0); return t * t * t }
	last, before, span := knots[k-1], knots[k-2], knots[k-1]-knots[0]
	out := []float64{x}
	for _, t := range knots[:k-2] {
		v := cube(t) - cube(before)*(last-t)/(last-before) + cube(last)*(before-t)/(last-before)
		out = append(out, v/(span*span))
	}
	return out, nil
}

// SplineCurve is the contrast in the linear predictor between each of xs and the
// reference, with pointwise limits; columns are those of the spline in the fit. At
// the reference itself the contrast is 0 with limits 0 and P = 1. After separation
// along one of the columns every other contrast is withheld.
func (f *Fit) SplineCurve(columns []int, knots, xs []float64, reference float64, cov Covariance, level float64) ([]Effect, error) {
	base, err := SplineBasis(reference, knots)
	if err := firstError(checkLevel(level), err, f.checkSpline(columns, knots)); err != nil {
		return nil, err
	}
	separated := false
	for _, j := range columns {
		separated = separated || f.withheld(j)
	}
	out := make([]Effect, len(xs))
	for i, x := range xs {
		terms, err := SplineBasis(x, knots)
		if err != nil {
			return nil, err
		}
		d, sum := mat.NewVecDense(len(f.Names), nil), 0.0
		for a, j := range columns {
			d.SetVec(j, terms[a]-base[a])
			sum += f.Coef[j] * (terms[a] - base[a])
		}
		if separated && x != reference {
			out[i] = waldEffect(sum, math.Inf(1), cov.DF, level)
		} else {
			out[i] = f.contrast(sum, d, cov, level)
		}
	}
	return out, nil
}

func (f *Fit) checkSpline(columns []int, knots []float64) error {
	if len(columns) != len(knots)-1 {
		return fmt.Errorf("%w: %d columns for %d spline terms", ErrBadInput, len(columns), len(knots)-1)
	}
	for _, j := range columns {
		if j < 0 || j >= len(f.Names) || math.IsNaN(f.Coef[j]) {
			return fmt.Errorf("%w: column %d has no coefficient", ErrBadInput, j)
		}
	}
	return nil
}

// SplineTests tests that the spline is flat (all its columns) and that it is straight
// (all but the first, which is the value itself), both as WaldJoint does.
func (f *Fit) SplineTests(columns []int, cov Covariance) (flat, straight JointTest, err error) {
	if len(columns) < 2 {
		return flat, straight, fmt.Errorf("%w: %d spline columns, two are needed", ErrBadInput, len(columns))
	}
	if flat, err = f.WaldJoint(columns, cov); err != nil {
		return flat, straight, err
	}
	straight, err = f.WaldJoint(columns[1:], cov)
	return flat, straight, err
}
