package stats

import (
	"fmt"
	"math"
)

// SurvivalScale is the scale on which limits for a survival curve are symmetric.
type SurvivalScale int

// The scales. LogLog is the default: its limits stay within 0 and 1 and cover best
// where events are few.
const (
	LogLog SurvivalScale = iota
	LogScale
	PlainScale
)

// Limits returns pointwise limits for the survival at p. The log and plain scales are
// cut at 0 and 1. Where no limit on the scale exists the exact binomial one stands in:
// before the first event from (1-level)/2 to the power 1/n, n being the number at
// risk there, up to 1; and once nobody survives 0 to 1 minus that. Both are wide rather than wrong. A point at time NaN has limits 0 to 1.
// Reference: Kalbfleisch & Prentice 2002, section 1.4.
func (p SurvivalPoint) Limits(level float64, scale SurvivalScale) (Interval, error) {
	if err := checkLevel(level); err != nil {
		return Interval{}, err
	}
	if math.IsNaN(p.Survival) {
		return Interval{0, 1}, nil
	}
	switch p.Survival {
	case 1:
		return Interval{zeroOf(p.AtRisk, level), 1}, nil
	case 0:
		return Interval{0, 1 - zeroOf(p.AtRisk, level)}, nil
	}
	z, s, se := intervalZ(level), p.Survival, math.Sqrt(p.LogVariance)
	switch scale {
	case LogLog:
		return logLogLimits(s, s*se, z), nil
	case LogScale:
		return Interval{s * math.Exp(-z*se), math.Min(1, s*math.Exp(z*se))}, nil
	case PlainScale:
		return Interval{math.Max(0, s-z*s*se), math.Min(1, s+z*s*se)}, nil
	}
	return Interval{}, fmt.Errorf("unknown scale %d: %w", scale, ErrBadInput)
}

// zeroOf is the exact lower limit of a proportion seen as n of n.
func zeroOf(n int64, level float64) float64 {
	if n < 1 {
		return 0
	}
	return math.Pow((1-level)/2, 1/float64(n))
}

// logLogLimits are symmetric for log(-log p), for 0 < p < 1 with standard error se.
func logLogLimits(p, se, z float64) Interval {
	half := z * se / (p * -math.Log(p))
	return Interval{math.Pow(p, math.Exp(half)), math.Pow(p, math.Exp(-half))}
}

// Quantile returns the time by which the share p of units has had the event (p = 0.5 is the
// median): the first time at which survival is at or below 1-p, or the middle of the
// step if survival equals 1-p along it. Its limits are the times at which the limits of the
// curve pass 1-p. A time that is never reached is +Inf.
// Reference: Brookmeyer & Crowley 1982, Biometrics 38:29.
func (c *SurvivalCurve) Quantile(p, level float64, scale SurvivalScale) (float64, Interval, error) {
	if !(p > 0 && p < 1) {
		return 0, Interval{}, fmt.Errorf("share %v is not between 0 and 1: %w", p, ErrBadInput)
	}
	low, mid, high := make([]float64, len(c.Points)), make([]float64, len(c.Points)), make([]float64, len(c.Points))
	for i, pt := range c.Points {
		iv, err := pt.Limits(level, scale)
		if err != nil {
			return 0, Interval{}, err
		}
		low[i], mid[i], high[i] = iv.Low, pt.Survival, iv.High
		if pt.Survival == 1 {
			// The stand-in limit before the first event widens as units leave; it says
			// nothing about when an event falls.
			low[i] = 1
		}
	}
	return c.crossing(mid, 1-p), Interval{c.crossing(low, 1-p), c.crossing(high, 1-p)}, nil
}

// crossing is the time at which a falling step function passes a height.
func (c *SurvivalCurve) crossing(values []float64, height float64) float64 {
	const tie = 1e-12 // products of fractions miss their exact value by some ulp
	for i, v := range values {
		if v < height-tie {
			return c.Points[i].Time
		}
		if v <= height+tie {
			for j := i + 1; j < len(values); j++ {
				if values[j] < height-tie {
					return (c.Points[i].Time + c.Points[j].Time) / 2
				}
			}
			return c.Points[i].Time
		}
	}
	return math.Inf(1)
}
