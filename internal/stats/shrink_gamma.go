package stats

import (
	"fmt"
	"math"
)

// ShrinkOptions steer a shrinkage. Level is the level of all limits, in (0,1).
// With FixMean the mean of the true levels is held at Mean, such as 1 where the
// expected counts are calibrated so that ratios average 1; otherwise it is
// estimated. UnitsOnly leaves DispersionLimits out (NaN) where no unit hangs on them: they
// take nearly half of the time.
type ShrinkOptions struct {
	Level     float64
	FixMean   bool
	Mean      float64
	UnitsOnly bool
}

// ShrunkUnit is a unit's raw value and what is left of it once its precision is
// weighed against the spread between units: the posterior mean with equal-tailed
// credible limits. Weight is the share, in [0,1], that the unit's own data have
// in the estimate; the rest comes from the mean of all.
type ShrunkUnit struct {
	Raw, Shrunk float64
	Limits      Interval
	Weight      float64
}

// Shrinkage is an empirical-Bayes comparison of units. Mean and Dispersion describe
// the law of the true levels and DispersionLimits are profile-likelihood limits.
// For ratios Dispersion is the squared coefficient of variation of the true
// ratios; for proportions it is 1/(a+b) of the beta law. A Dispersion of 0
// means that chance alone explains the differences: see the warning.
// Credible limits take Mean and Dispersion as known, which makes them somewhat
// narrow with few units.
type Shrinkage struct {
	Mean, Dispersion float64
	DispersionLimits Interval
	Units            []ShrunkUnit
	Warnings         []Warning
}

// fewUnits is the number of units below which the spread between them is hardly
// estimable. It is common practice for random effects, without a source.
const fewUnits = 10

// ShrinkRatios shrinks standardised ratios by the gamma-Poisson model (Clayton &
// Kaldor 1987, Biometrics 43:671): Observed ~ Poisson(theta Expected), theta ~
// gamma with mean Mean and variance Dispersion Mean^2, both by maximum
// likelihood of the negative binomial margin. The posterior of theta is gamma with
// shape 1/Dispersion + Observed.
//
// Where the likelihood is highest at Dispersion 0, every unit shrinks fully to the
// mean and Limits are taken at the upper limit of the dispersion instead, widened
// to hold the mean: an honest "no difference seen" keeps what cannot be excluded.
// Without a single event there is nothing to estimate: ErrNoData.
func ShrinkRatios(units []UnitCount, opt ShrinkOptions) (Shrinkage, error) {
	if err := firstError(checkUnits(units), checkShrink(opt, math.Inf(1))); err != nil {
		return Shrinkage{}, err
	}
	if !someEvents(units) {
		return Shrinkage{}, fmt.Errorf("no events in any unit: %w", ErrNoData)
	}
	m := gammaPoisson{units, opt}
	return shrink(m, units, opt, m.posterior)
}

// shrink fits the spread between units and gives each its share of the result.
func shrink[U any](m shrinkModel, units []U, opt ShrinkOptions, law func(U) posterior) (Shrinkage, error) {
	fit, err := fitSpread(m, opt)
	if err != nil {
		return Shrinkage{}, err
	}
	s := newShrinkage(fit, len(units))
	for _, u := range units {
		s.Units = append(s.Units, fit.unit(opt.Level, law(u)))
	}
	return s, nil
}

func someEvents(units []UnitCount) bool {
	for _, u := range units {
		if u.Observed > 0 {
			return true
		}
	}
	return false
}

// checkShrink checks options; top is the mean's upper bound, which it must not reach.
func checkShrink(opt ShrinkOptions, top float64) error {
	if opt.FixMean && !(opt.Mean > 0 && opt.Mean < top) {
		return fmt.Errorf("fixed mean %g: %w", opt.Mean, ErrBadInput)
	}
	return checkLevel(opt.Level)
}

// posterior is one unit's law given mean and d > 0.
type posterior func(mean, d float64) (weight, raw float64, quantile func(p float64) float64)

func newShrinkage(fit spreadFit, units int) Shrinkage {
	s := Shrinkage{Mean: fit.mean, Dispersion: fit.spread, DispersionLimits: fit.limits, Units: []ShrunkUnit{}, Warnings: []Warning{}}
	if fit.boundary {
		s.Warnings = append(s.Warnings, Warning{"no-spread", "Chance alone explains the differences between units: each is shrunk fully to the mean, and its limits show what more cases could still reveal."})
	}
	if units < fewUnits {
		s.Warnings = append(s.Warnings, Warning{"few-units", fmt.Sprintf("Only %d units: the spread between them is poorly known and credible limits are too narrow; at least %d would mend this.", units, fewUnits)})
	}
	return s
}

// unit gives one unit's share of the result, fit.boundary included.
func (fit spreadFit) unit(level float64, law posterior) ShrunkUnit {
	tail := (1 - level) / 2
	if !fit.boundary {
		w, raw, q := law(fit.mean, fit.spread)
		return ShrunkUnit{raw, w*raw + (1-w)*fit.mean, Interval{q(tail), q(1 - tail)}, w}
	}
	wide := fit.limits.High
	if math.IsInf(wide, 1) {
		wide = spreadHigh
	}
	_, raw, q := law(fit.mean, wide)
	return ShrunkUnit{raw, fit.mean, Interval{min(q(tail), fit.mean), max(q(1-tail), fit.mean)}, 0}
}

type gammaPoisson struct {
	units []UnitCount
	opt   ShrinkOptions
}

// mean solves sum (O - mE)/(1 + d m E) = 0. The left side falls in m, is positive
// at the smallest raw ratio and negative at the largest.
func (g gammaPoisson) mean(d float64) float64 {
	if g.opt.FixMean {
		return g.opt.Mean
	}
	var o, e float64
	lo, hi := math.Inf(1), 0.0
	for _, u := range g.units {
		if u.Expected > 0 {
			o, e = o+u.Observed, e+u.Expected
			lo, hi = min(lo, u.Observed/u.Expected), max(hi, u.Observed/u.Expected)
		}
	}
	if d == 0 || lo == hi {
		return o / e
	}
	return rootNewton(func(m float64) (f, slope float64) {
		for _, u := range g.units {
			v := 1 + d*m*u.Expected
			f += (u.Observed - m*u.Expected) / v
			slope -= u.Expected * (1 + d*u.Observed) / (v * v)
		}
		return f, slope
	}, lo, hi, o/e)
}

func (g gammaPoisson) logLik(m, d float64) float64 {
	var s float64
	for _, u := range g.units {
		mu := m * u.Expected
		s += logRising(1, d, u.Observed) + xlogy(u.Observed, mu)
		if d == 0 {
			s -= mu
		} else {
			s -= (u.Observed + 1/d) * math.Log1p(d*mu)
		}
	}
	return s
}

func (g gammaPoisson) score(m, d float64) float64 {
	var s float64
	for _, u := range g.units {
		mu := m * u.Expected
		s += logRisingByD(1, d, u.Observed) + logExcess(d*mu)*mu*mu - u.Observed*mu/(1+d*mu)
	}
	return s
}

// logExcess is (log(1+x) - x/(1+x)) / x^2, by its series where it would cancel.
func logExcess(x float64) float64 {
	if x < 1e-3 {
		return 0.5 - x*(2.0/3-x*(0.75-x*(0.8-x*5.0/6)))
	}
	return (math.Log1p(x) - x/(1+x)) / (x * x)
}

func (g gammaPoisson) posterior(u UnitCount) posterior {
	return func(mean, d float64) (float64, float64, func(float64) float64) {
		var raw float64
		if u.Expected > 0 {
			raw = u.Observed / u.Expected
		}
		prior := 1 / (d * mean) // the prior's rate: expected events that it is worth
		shape, rate := 1/d+u.Observed, prior+u.Expected
		return u.Expected / rate, raw, func(p float64) float64 { return gammaQuantile(p, shape, false) / rate }
	}
}
