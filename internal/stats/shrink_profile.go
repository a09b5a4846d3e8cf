package stats

import (
	"fmt"
	"math"
)

// A shrinkage model has two parameters: the mean of the units' true levels and
// their spread d, in a form where d = 0 is the model without any spread. Its
// likelihood is maximised over the mean for each d, and then over d.
type shrinkModel interface {
	// mean maximises the likelihood over the mean at spread d.
	mean(d float64) float64
	// logLik is the log-likelihood up to a constant that is the same for all d.
	logLik(mean, d float64) float64
	// score is the derivative of logLik by d; at a maximising mean it is also the
	// derivative of the profile.
	score(mean, d float64) float64
}

// The spread is searched between these bounds, in units of d; below the first the
// data cannot be told from d = 0, above the second the prior is practically flat.
const (
	spreadLow   = 1e-6
	spreadHigh  = 1e4
	spreadSteps = 46
)

// spreadFit is the maximum-likelihood spread and its profile-likelihood limits.
type spreadFit struct {
	mean, spread float64
	limits       Interval
	boundary     bool
}

// fitSpread maximises the profile. The grid guards against a second maximum; a
// sign change of the score is then narrowed to the last digits.
func fitSpread(m shrinkModel, opt ShrinkOptions) (spreadFit, error) {
	grid := spreadGrid()
	score := make([]float64, len(grid))
	for i, d := range grid {
		score[i] = profileScore(m, d)
		if math.IsNaN(score[i]) {
			return spreadFit{}, fmt.Errorf("spread %g: %w", d, ErrNoConvergence)
		}
	}
	if score[len(score)-1] > 0 {
		return spreadFit{}, fmt.Errorf("the spread between units has no upper bound: %w", ErrNoConvergence)
	}
	fit := spreadFit{mean: m.mean(0), boundary: true}
	best := m.logLik(fit.mean, 0)
	for i := 1; i < len(grid); i++ {
		if !(score[i-1] > 0 && score[i] <= 0) {
			continue
		}
		d := rootBetween(func(x float64) float64 { return profileScore(m, x) }, grid[i-1], grid[i], 1e-13)
		if ll := profileLogLik(m, d); ll > best {
			best, fit = ll, spreadFit{mean: m.mean(d), spread: d}
		}
	}
	if opt.UnitsOnly && !fit.boundary {
		fit.limits = Interval{math.NaN(), math.NaN()}
		return fit, nil
	}
	fit.limits = spreadLimits(m, grid, fit, best, opt.Level)
	return fit, nil
}

func spreadGrid() []float64 {
	grid := make([]float64, spreadSteps)
	ratio := math.Log(spreadHigh / spreadLow)
	for i := range grid {
		grid[i] = spreadLow * math.Exp(ratio*float64(i)/(spreadSteps-1))
	}
	return grid
}

func profileScore(m shrinkModel, d float64) float64  { return m.score(m.mean(d), d) }
func profileLogLik(m shrinkModel, d float64) float64 { return m.logLik(m.mean(d), d) }

// spreadLimits inverts the likelihood-ratio test of d by its chi-squared law with
// one degree of freedom. A lower limit of 0 means that no spread at all is
// compatible with the data; near 0 the law is conservative, its true reference
// being a half-and-half mixture with 0.
func spreadLimits(m shrinkModel, grid []float64, fit spreadFit, best, level float64) Interval {
	z := intervalZ(level)
	drop := func(d float64) float64 { return best - profileLogLik(m, d) - z*z/2 }
	out := Interval{0, math.Inf(1)}
	if !fit.boundary && drop(0) > 0 {
		out.Low = rootBetween(drop, 0, fit.spread, limitDigits)
	}
	at := fit.spread
	for _, d := range grid {
		if d <= fit.spread {
			continue
		}
		if drop(d) > 0 {
			out.High = rootBetween(drop, at, d, limitDigits)
			return out
		}
		at = d
	}
	return out
}

// limitDigits is about what a difference of two likelihoods of many units can tell.
const limitDigits = 1e-10

// rootBetween finds the sign change of f between a and b, to that share of it: the
// straight line through the ends, whose value is halved at an end that stays (the
// Illinois rule), and plain halving where that does not shorten the bracket enough.
func rootBetween(f func(float64) float64, a, b, digits float64) float64 {
	fa, fb := f(a), f(b)
	for range 200 {
		width := b - a
		x := b - fb*width/(fb-fa)
		if !(x > a && x < b) {
			x = a + width/2
		}
		fx := f(x)
		if fx == 0 {
			return x
		}
		if (fx > 0) == (fb > 0) {
			b, fb, fa = x, fx, fa/2
		} else {
			a, fa, fb = x, fx, fb/2
		}
		if b-a > width/2 {
			mid := a + (b-a)/2
			if fm := f(mid); (fm > 0) == (fb > 0) {
				b, fb = mid, fm
			} else {
				a, fa = mid, fm
			}
		}
		if b-a <= digits*b {
			break
		}
	}
	return a + (b-a)/2
}
