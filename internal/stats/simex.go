package stats

import (
	"fmt"
	"math"
	"math/rand/v2"
)

// SIMEXOptions set a simulation-extrapolation.
type SIMEXOptions struct {
	// Added are the multiples of the error variance that are added, ascending and above
	// 0; at least three.
	Added []float64
	// Replicates is the number of noisy copies at each, at least 2.
	Replicates int
	Seed       uint64
	// Level is that of the limits, in (0,1).
	Level float64
}

// DefaultSIMEX is a common choice.
var DefaultSIMEX = SIMEXOptions{Added: []float64{0.5, 1, 1.5, 2}, Replicates: 100, Seed: 1, Level: 0.95}

// SIMEXResult is a coefficient read back to no error.
type SIMEXResult struct {
	Naive float64
	// Quadratic extrapolates a parabola, which corrects too little when the error is
	// large; Rational extrapolates a + b/(c + added), exact in the mean for a linear
	// model. Rational is NaN, with a warning, where no such curve fits.
	Quadratic, Rational float64
	// SE and Limits belong to Quadratic. They take the error SD as known.
	SE     float64
	Limits Interval
	// Curve is the mean coefficient at 0 and at each added multiple, the fitted points.
	Curve    []float64
	Warnings []Warning
}

// FitOn fits a model with x in place of the mismeasured column and returns that column's
// coefficient and its variance. It must not keep x.
type FitOn func(x []float64) (coefficient, variance float64, err error)

// SIMEX adds more and more error to readings x with error SDs errorSD (one for all, or
// one each; of the mean where x are means of repeats), sees how the coefficient shrinks,
// and extrapolates back to no error (added = -1). It needs no linear model, so it checks
// CalibrateSlope; it works on rows, not patterns. The variance extrapolates the mean
// model variance less the scatter of the replicates. Checked against R written out with
// the same noise, and CalibrateSlope: no package of Debian does it, and no published
// example prints data that small. Reference: Cook & Stefanski 1994,
// J Am Stat Assoc 89:1314; Stefanski & Cook 1995, 90:1247.
func SIMEX(x, errorSD []float64, fit FitOn, o SIMEXOptions) (SIMEXResult, error) {
	sd, err := o.check(x, errorSD)
	if err != nil {
		return SIMEXResult{}, err
	}
	rng := rand.New(newSource(o.Seed))
	return simex(x, sd, fit, o, func(_, _, _ int) float64 { return rng.NormFloat64() })
}

// simex is SIMEX with the standard normal noise for a row given by place among the
// added multiples, replicate and row.
func simex(x, sd []float64, fit FitOn, o SIMEXOptions, noise func(step, replicate, row int) float64) (SIMEXResult, error) {
	naive, variance, err := fit(x)
	if err := firstError(err, checkFitted(naive, variance)); err != nil {
		return SIMEXResult{}, fmt.Errorf("fit without added error: %w", err)
	}
	added, curve, spread := []float64{0}, []float64{naive}, []float64{variance}
	noisy := make([]float64, len(x))
	for step, multiple := range o.Added {
		values, variances := make([]float64, o.Replicates), 0.0
		for b := range values {
			for i := range x {
				noisy[i] = x[i] + math.Sqrt(multiple)*sd[i]*noise(step, b, i)
			}
			v, s, err := fit(noisy)
			if err := firstError(err, checkFitted(v, s)); err != nil {
				return SIMEXResult{}, fmt.Errorf("fit with %g times the error variance added: %w", multiple, err)
			}
			values[b], variances = v, variances+s
		}
		mean, squares := meanAndSquares(values)
		b := float64(o.Replicates)
		added, curve, spread = append(added, multiple), append(curve, mean), append(spread, variances/b-squares/(b-1))
	}
	return extrapolateSIMEX(added, curve, spread, o.Level)
}

// extrapolateSIMEX reads coefficient and variance curves at -1.
func extrapolateSIMEX(added, curve, spread []float64, level float64) (SIMEXResult, error) {
	out := SIMEXResult{Naive: curve[0], Curve: curve, Rational: math.NaN()}
	out.Quadratic = leastSquaresAt(quadraticTerms, added, curve, -1)
	if c, ok := rationalPole(added, curve); ok {
		out.Rational = leastSquaresAt(rationalTerms(c), added, curve, -1)
	} else {
		out.Warnings = append(out.Warnings, Warning{"no-rational", "The curve does not fall like a ratio: only the parabola is read back."})
	}
	variance := leastSquaresAt(quadraticTerms, added, spread, -1)
	if !(variance > 0) {
		return SIMEXResult{}, fmt.Errorf("variance extrapolates to %v, more replicates or less error: %w", variance, ErrNoAnswer)
	}
	out.SE = math.Sqrt(variance)
	half := intervalZ(level) * out.SE
	out.Limits = Interval{out.Quadratic - half, out.Quadratic + half}
	return out, nil
}

func checkFitted(v, variance float64) error {
	if math.IsNaN(v) || math.IsInf(v, 0) || !(variance >= 0 && variance <= math.MaxFloat64) {
		return fmt.Errorf("coefficient %v with variance %v: %w", v, variance, ErrNoConvergence)
	}
	return nil
}

// check refuses bad options and returns an error SD for every row.
func (o SIMEXOptions) check(x, errorSD []float64) ([]float64, error) {
	if len(x) == 0 {
		return nil, fmt.Errorf("no readings: %w", ErrNoData)
	}
	if len(errorSD) != 1 && len(errorSD) != len(x) {
		return nil, fmt.Errorf("%d error SDs for %d readings: %w", len(errorSD), len(x), ErrBadInput)
	}
	if err := checkLevel(o.Level); err != nil {
		return nil, err
	}
	if len(o.Added) < 3 || o.Replicates < 2 {
		return nil, fmt.Errorf("%d multiples with %d replicates: %w", len(o.Added), o.Replicates, ErrBadInput)
	}
	before := 0.0
	for _, v := range o.Added {
		if !(v > before && v <= 100) {
			return nil, fmt.Errorf("added multiples %v do not ascend from above 0: %w", o.Added, ErrBadInput)
		}
		before = v
	}
	sd := make([]float64, len(x))
	for i, v := range x {
		sd[i] = errorSD[i%len(errorSD)]
		if !(math.Abs(v) <= 1e150 && sd[i] >= 0 && sd[i] <= 1e150) {
			return nil, fmt.Errorf("reading %d is %v with error SD %v: %w", i, v, sd[i], ErrBadInput)
		}
	}
	return sd, nil
}
