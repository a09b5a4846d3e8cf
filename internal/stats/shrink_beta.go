package stats

import (
	"fmt"
	"math"
)

// UnitShare is one unit's events out of its trials. Both may be fractions, once
// divided by a dispersion.
type UnitShare struct {
	Events, Trials float64
}

// ShrinkShares shrinks proportions by the beta-binomial model: Events ~
// binomial(Trials, p), p ~ beta(a, b) with mean a/(a+b) = Mean and Dispersion =
// 1/(a+b), by maximum likelihood. The posterior of p is beta(a + events, b +
// non-events). The intra-class correlation is Dispersion/(1+Dispersion). For the
// boundary see ShrinkRatios. When no trial or every trial is an event there is
// nothing to compare: ErrNoData.
// Source: Griffiths 1973, Biometrics 29:637, for the likelihood's form.
func ShrinkShares(units []UnitShare, opt ShrinkOptions) (Shrinkage, error) {
	if err := firstError(checkShares(units), checkShrink(opt, 1)); err != nil {
		return Shrinkage{}, err
	}
	m := &betaBinomial{units: units, opt: opt}
	if p := m.pooled(); !(p > 0 && p < 1) {
		return Shrinkage{}, fmt.Errorf("no trial, or all alike: %w", ErrNoData)
	}
	return shrink(m, units, opt, m.posterior)
}

func checkShares(units []UnitShare) error {
	if len(units) == 0 {
		return fmt.Errorf("no units: %w", ErrNoData)
	}
	for i, u := range units {
		if !finiteCount(u.Events) || !finiteCount(u.Trials) || u.Events > u.Trials {
			return fmt.Errorf("unit %d: %g events of %g: %w", i, u.Events, u.Trials, ErrBadInput)
		}
	}
	return nil
}

type betaBinomial struct {
	units []UnitShare
	opt   ShrinkOptions
	last  float64 // the mean found last, where the next search begins; 0 before the first
}

func (b *betaBinomial) pooled() float64 {
	var x, n float64
	for _, u := range b.units {
		x, n = x+u.Events, n+u.Trials
	}
	return x / n
}

// mean maximises a sum of logarithms of linear functions of m: concave, one root. It moves
// little from one spread to the next.
func (b *betaBinomial) mean(d float64) float64 {
	if b.opt.FixMean {
		return b.opt.Mean
	}
	p := b.pooled()
	if d == 0 {
		return p
	}
	if b.last == 0 {
		b.last = p
	}
	b.last = rootNewton(func(m float64) (f, slope float64) {
		events, others := newRising(m, d), newRising(1-m, d)
		for _, u := range b.units {
			v, s := events.byA(u.Events)
			w, t := others.byA(u.Trials - u.Events)
			f, slope = f+v-w, slope+s+t
		}
		return f, slope
	}, 0, 1, b.last)
	return b.last
}

func (b *betaBinomial) logLik(m, d float64) float64 {
	var s float64
	for _, u := range b.units {
		s += logRising(m, d, u.Events) + logRising(1-m, d, u.Trials-u.Events) - logRising(1, d, u.Trials)
	}
	return s
}

func (b *betaBinomial) score(m, d float64) float64 {
	var s float64
	for _, u := range b.units {
		s += logRisingByD(m, d, u.Events) + logRisingByD(1-m, d, u.Trials-u.Events) - logRisingByD(1, d, u.Trials)
	}
	return s
}

func (b *betaBinomial) posterior(u UnitShare) posterior {
	return func(mean, d float64) (float64, float64, func(float64) float64) {
		var raw float64
		if u.Trials > 0 {
			raw = u.Events / u.Trials
		}
		x, y := mean/d+u.Events, (1-mean)/d+u.Trials-u.Events
		return u.Trials / (u.Trials + 1/d), raw, func(p float64) float64 { return betaQuantile(p, x, y, false) }
	}
}

// rootNewton solves f = 0 for a falling f that is positive just above lo and
// negative just below hi. Newton's step is kept inside the bracket, which halves
// whenever the step would leave it.
func rootNewton(f func(float64) (value, slope float64), lo, hi, x float64) float64 {
	if !(x > lo && x < hi) {
		x = lo + (hi-lo)/2
	}
	for range 200 {
		v, slope := f(x)
		if v == 0 {
			return x
		}
		if v > 0 {
			lo = x
		} else {
			hi = x
		}
		next := x - v/slope
		if !(next > lo && next < hi) {
			next = lo + (hi-lo)/2
		}
		if math.Abs(next-x) <= 1e-15*math.Abs(x) || next == x {
			return next
		}
		x = next
	}
	return x
}
