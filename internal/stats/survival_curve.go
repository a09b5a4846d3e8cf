package stats

import (
	"fmt"
	"math"
	"sort"
)

// SurvivalPoint is a survival curve from its Time until the next point's.
type SurvivalPoint struct {
	Time                     float64
	AtRisk, Events, Censored int64
	// Survival is the Kaplan-Meier estimate just after Time, Hazard the Nelson-Aalen
	// estimate of the cumulative hazard.
	Survival, Hazard float64
	// LogVariance is Greenwood's sum of d/(n(n-d)), the variance of log Survival; it
	// is +Inf once nobody survives. HazardVariance is the sum of d/n^2.
	LogVariance, HazardVariance float64
}

// SE returns Greenwood's standard error of Survival; 0 where Survival is 0 or 1.
func (p SurvivalPoint) SE() float64 {
	if p.Survival == 0 {
		return 0
	}
	return p.Survival * math.Sqrt(p.LogVariance)
}

// SurvivalCurve is a step function: 1 before the first point. Points has one entry
// for each distinct time, censoring times included, in ascending order.
type SurvivalCurve struct {
	Points []SurvivalPoint
	N      int64
}

// KaplanMeier estimates survival and cumulative hazard from counts; the order of the
// rows and the way they are split do not matter. A unit censored at the time of an
// event counts as at risk for it. No unit at all is ErrNoData.
// Variances and limits take units as independent: where units hang together, as two of
// one person do, limits are too narrow, and squared sums of IncidenceInfluence over
// clusters give the variance instead.
// References: Kaplan & Meier 1958, J Am Stat Assoc 53:457; Greenwood 1926; Nelson 1972;
// Aalen 1978.
func KaplanMeier(rows []TimeCount) (*SurvivalCurve, error) {
	merged, err := mergeCounts(rows)
	if err != nil {
		return nil, err
	}
	curve := &SurvivalCurve{Points: make([]SurvivalPoint, 0, len(merged))}
	for _, r := range merged {
		curve.N += r.Events + r.Censored
	}
	at := SurvivalPoint{Survival: 1, AtRisk: curve.N}
	for _, r := range merged {
		n, d := float64(at.AtRisk), float64(r.Events)
		at.Time, at.Events, at.Censored = r.Time, r.Events, r.Censored
		if d > 0 {
			at.Survival *= (n - d) / n
			at.Hazard += d / n
			at.LogVariance += d / n / (n - d)
			at.HazardVariance += d / n / n
		}
		curve.Points = append(curve.Points, at)
		at.AtRisk -= r.Events + r.Censored
	}
	return curve, nil
}

// Events returns how many units had the event.
func (c *SurvivalCurve) Events() int64 {
	var n int64
	for _, p := range c.Points {
		n += p.Events
	}
	return n
}

// End is the last time at which anybody was under observation.
func (c *SurvivalCurve) End() float64 { return c.Points[len(c.Points)-1].Time }

// At returns the curve at time t. Beyond the last follow-up the curve is known only
// if nobody survived; otherwise the last value comes back with a warning. At NaN
// nothing is known: survival and hazard are NaN.
func (c *SurvivalCurve) At(t float64) (SurvivalPoint, []Warning) {
	if math.IsNaN(t) {
		return SurvivalPoint{Time: t, Survival: t, Hazard: t, LogVariance: t, HazardVariance: t}, nil
	}
	i := sort.Search(len(c.Points), func(i int) bool { return !(c.Points[i].Time <= t) })
	if i == 0 {
		return SurvivalPoint{Time: t, AtRisk: c.N, Survival: 1}, nil
	}
	p := c.Points[i-1]
	if t > c.End() && p.Survival > 0 {
		return p, []Warning{beyondFollowUp(t, c.End())}
	}
	return p, nil
}

func beyondFollowUp(t, end float64) Warning {
	return Warning{
		Code: "beyond-follow-up",
		Text: fmt.Sprintf("Nobody was followed to %g; the value is that at %g, the end of follow-up. Ask for an earlier time.", t, end),
	}
}

// AtRisk returns for each time how many units were still under observation just
// before it; 0 at NaN.
func (c *SurvivalCurve) AtRisk(times []float64) []int64 {
	out := make([]int64, len(times))
	for j, t := range times {
		i := sort.Search(len(c.Points), func(i int) bool { return !(c.Points[i].Time < t) })
		if i < len(c.Points) && !math.IsNaN(t) {
			out[j] = c.Points[i].AtRisk
		}
	}
	return out
}

// RestrictedMean returns the mean time to the event up to horizon tau (the area under
// the curve) and its standard error,
//
//	sum over events up to tau of (area from there to tau)^2 d/(n(n-d)).
//
// A horizon beyond follow-up is an error unless nobody survived.
// Reference: Klein & Moeschberger 2003, Survival Analysis, section 4.5.
func (c *SurvivalCurve) RestrictedMean(tau float64) (mean, se float64, err error) {
	if !(tau > 0) || math.IsInf(tau, 1) {
		return 0, 0, fmt.Errorf("horizon %v is not finite and above 0: %w", tau, ErrBadInput)
	}
	if last := c.Points[len(c.Points)-1]; tau > last.Time && last.Survival > 0 {
		return 0, 0, fmt.Errorf("horizon %v is beyond the last follow-up at %v: %w", tau, last.Time, ErrBadInput)
	}
	variance, until := 0.0, tau
	for i := len(c.Points) - 1; i >= 0; i-- {
		p := c.Points[i]
		if p.Time >= tau {
			continue
		}
		mean += p.Survival * (until - p.Time)
		until = p.Time
		if n, d := float64(p.AtRisk), float64(p.Events); d > 0 && d < n {
			variance += mean * mean * d / n / (n - d)
		}
	}
	return mean + until, math.Sqrt(variance), nil
}
