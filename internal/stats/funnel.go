package stats

import (
	"fmt"
	"math"
	"slices"
)

// Overdispersion says how a funnel makes room for differences between units that
// chance leaves unexplained (Spiegelhalter 2005, Stat Med 24:1185).
type Overdispersion int

const (
	// NoOverdispersion draws the limits of the binomial or Poisson law itself.
	NoOverdispersion Overdispersion = iota
	// Multiplicative multiplies every variance by phi, the mean squared z-score.
	Multiplicative
	// Additive adds tau^2, the variance between units, on the scale of the value.
	// The larger a unit the wider its limits become against chance alone.
	Additive
)

// FunnelOptions steer a funnel. The zero value of Target means the pooled value.
type FunnelOptions struct {
	// Target is the value compared with: a proportion in (0,1), or a positive ratio.
	Target float64
	// Spread is the treatment of overdispersion.
	Spread Overdispersion
	// Winsor is the share of z-scores pulled in at either end before the spread is
	// estimated, in [0, 0.5); 0.1 is usual.
	Winsor float64
	// Rescale divides the mean squared z-score by what winsorising leaves of it in
	// a normal law (0.679 at 10 %). The paper does not; without it a real spread is
	// understated by a third and too many units stand out.
	Rescale bool
}

// DefaultFunnel winsorises 10 % at either end and rescales.
func DefaultFunnel() FunnelOptions { return FunnelOptions{Winsor: 0.1, Rescale: true} }

// FunnelFlag places a unit against the limits: negative below, positive above,
// 1 outside the 95 % and 2 outside the 99.8 % limits.
type FunnelFlag int

// FunnelPoint is one unit in a funnel. Z is the score before any winsorising, in
// standard errors at the target with chance alone. Near and Far are the 95 % and
// 99.8 % limits on the scale of Value.
type FunnelPoint struct {
	Value, Size, Z float64
	Near, Far      Interval
	Flag           FunnelFlag
}

// Funnel holds the points in the order of the units. Phi is the mean squared
// winsorised z-score (rescaled if asked), never cut at 1, and Tau2 the
// method-of-moments variance between units, cut at 0. Both are reported whichever
// of them the limits use.
type Funnel struct {
	Target, Phi, Tau2 float64
	Points            []FunnelPoint
	Warnings          []Warning

	law    funnelLaw
	spread Overdispersion
}

// The two nominal levels of a funnel, 95 % and 99.8 % (about 2 and 3 standard
// errors), as used by Spiegelhalter 2005.
const (
	funnelNear = 0.95
	funnelFar  = 0.998
)

// funnelLaw is what binomial and Poisson funnels differ in. count is the law of
// the events of a unit of the given effective size.
type funnelLaw struct {
	count    func(size float64) countLaw
	variance float64 // variance of a value of size 1 at the target
	top      float64 // largest possible value
}

// RatioFunnel compares Observed/Expected with a target ratio, 1 or the pooled one,
// by interpolated Poisson limits; the size is Expected. Under overdispersion a
// unit's variance grows by a factor f, which is phi or 1 + tau^2 Expected/target;
// its limits are those of a unit with Expected/f, so that they keep the skewness
// of small counts where normal limits would lose it. f is never below 1.
// Units with Expected 0 have limits 0 to +Inf and no flag.
func RatioFunnel(units []UnitCount, opt FunnelOptions) (Funnel, error) {
	if err := checkUnits(units); err != nil {
		return Funnel{}, err
	}
	values, sizes := make([]float64, len(units)), make([]float64, len(units))
	for i, u := range units {
		values[i], sizes[i] = u.Observed, u.Expected
	}
	target, err := funnelTarget(values, sizes, opt, math.Inf(1))
	if err != nil {
		return Funnel{}, err
	}
	law := funnelLaw{func(e float64) countLaw { return poissonLaw(target * e) }, target, math.Inf(1)}
	return drawFunnel(values, sizes, target, law, opt)
}

// ShareFunnel compares Events/Trials with a target proportion by interpolated
// binomial limits; the size is Trials. Overdispersion acts as in RatioFunnel, with
// f = phi or 1 + tau^2 Trials/(p(1-p)).
func ShareFunnel(units []UnitShare, opt FunnelOptions) (Funnel, error) {
	if err := checkShares(units); err != nil {
		return Funnel{}, err
	}
	values, sizes := make([]float64, len(units)), make([]float64, len(units))
	for i, u := range units {
		values[i], sizes[i] = u.Events, u.Trials
	}
	target, err := funnelTarget(values, sizes, opt, 1)
	if err != nil {
		return Funnel{}, err
	}
	law := funnelLaw{func(n float64) countLaw { return binomialLaw(n, target) }, target * (1 - target), 1}
	return drawFunnel(values, sizes, target, law, opt)
}

func funnelTarget(counts, sizes []float64, opt FunnelOptions, top float64) (float64, error) {
	if !(opt.Winsor >= 0 && opt.Winsor < 0.5) || opt.Spread < NoOverdispersion || opt.Spread > Additive {
		return 0, fmt.Errorf("funnel options %+v: %w", opt, ErrBadInput)
	}
	target := opt.Target
	if target == 0 {
		var o, n float64
		for i := range counts {
			o, n = o+counts[i], n+sizes[i]
		}
		if target = o / n; o == 0 || n == 0 || target >= top {
			return 0, fmt.Errorf("no pooled value to compare with: %w", ErrNoData)
		}
	}
	if !(target > 0 && target < top) {
		return 0, fmt.Errorf("target %g: %w", target, ErrBadInput)
	}
	return target, nil
}

func drawFunnel(counts, sizes []float64, target float64, law funnelLaw, opt FunnelOptions) (Funnel, error) {
	f := Funnel{Target: target, Points: make([]FunnelPoint, len(counts)), Warnings: []Warning{}, law: law, spread: opt.Spread}
	var z, weights []float64
	for i, n := range sizes {
		p := FunnelPoint{Size: n}
		if n > 0 {
			p.Value = counts[i] / n
			p.Z = (p.Value - target) * math.Sqrt(n/law.variance)
			z, weights = append(z, p.Z), append(weights, n/law.variance)
		}
		f.Points[i] = p
	}
	f.Phi, f.Tau2 = spreadOfScores(z, weights, opt)
	if len(z) < fewUnits && opt.Spread != NoOverdispersion {
		f.Warnings = append(f.Warnings, Warning{"few-units", fmt.Sprintf("The spread between units is estimated from %d units only; with at least %d it would be steadier.", len(z), fewUnits)})
	}
	for i := range f.Points {
		p := &f.Points[i]
		p.Near, p.Far = f.Limits(p.Size, funnelNear), f.Limits(p.Size, funnelFar)
		p.Flag = funnelFlag(*p)
	}
	return f, nil
}

// Limits gives the interpolated limits at any size, for drawing the curves between
// the points; level is in (0,1). The interpolation spreads the tail probability
// exactly over sizes, at the price that a count just beyond may have a tail
// slightly above (1-level)/2. A size that is 0, or beyond 1e10 in expected events,
// gives the whole range of values. Only a Funnel made by this package has limits.
func (f Funnel) Limits(size, level float64) Interval {
	return f.limits(size, level, interpolatedQuantile)
}

// ExactLimits gives the lowest and the highest value at this size that an exact
// test would still accept: each tail that includes the value itself is above
// (1-level)/2. They run in steps of one event, and each lies above the interpolated
// limit by less than one event.
func (f Funnel) ExactLimits(size, level float64) Interval {
	return f.limits(size, level, exactQuantile)
}

func (f Funnel) limits(size, level float64, quantile func(countLaw, float64) float64) Interval {
	if !(size > 0 && size*max(1, f.Target) <= maxTailParameter) {
		return Interval{0, f.law.top}
	}
	factor := 1.0
	switch f.spread {
	case Multiplicative:
		factor = max(1, f.Phi)
	case Additive:
		factor = 1 + f.Tau2*size/f.law.variance
	}
	tail, n := (1-level)/2, size/factor
	law := f.law.count(n)
	// A size too small for even one event has no room below 0: not to be above it.
	return Interval{max(0, quantile(law, tail)/n), min(f.law.top, max(0, quantile(law, 1-tail)/n))}
}

func funnelFlag(p FunnelPoint) FunnelFlag {
	switch {
	case p.Size == 0:
		return 0
	case p.Value < p.Far.Low:
		return -2
	case p.Value > p.Far.High:
		return 2
	case p.Value < p.Near.Low:
		return -1
	case p.Value > p.Near.High:
		return 1
	}
	return 0
}

// spreadOfScores estimates phi and tau^2 from z-scores and weights 1/s^2.
func spreadOfScores(z, weights []float64, opt FunnelOptions) (phi, tau2 float64) {
	n := float64(len(z))
	var sw, sw2 float64
	for i, v := range winsorised(z, opt.Winsor) {
		phi += v * v / n
		sw, sw2 = sw+weights[i], sw2+weights[i]*weights[i]
	}
	if opt.Rescale {
		phi /= winsorisedVariance(opt.Winsor)
	}
	if den := sw - sw2/sw; den > 0 {
		tau2 = max(0, (n*phi-(n-1))/den)
	}
	return phi, tau2
}

// winsorised pulls the share at either end in to the type-7 quantile there.
func winsorised(z []float64, share float64) []float64 {
	if len(z) == 0 {
		return nil
	}
	s := slices.Sorted(slices.Values(z))
	lo, hi := quantile7(s, share), quantile7(s, 1-share)
	out := make([]float64, len(z))
	for i, v := range z {
		out[i] = min(max(v, lo), hi)
	}
	return out
}

// winsorisedVariance is the variance of a standard normal variable winsorised at
// +-c, c being its upper quantile at the share:
//
//	(1 - 2 share) - 2 c phi(c) + 2 share c^2
func winsorisedVariance(share float64) float64 {
	if share == 0 {
		return 1
	}
	c := intervalZ(1 - 2*share)
	density := math.Exp(-c*c/2) / math.Sqrt(2*math.Pi)
	return 1 - 2*share - 2*c*density + 2*share*c*c
}
