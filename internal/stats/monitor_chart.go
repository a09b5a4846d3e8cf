package stats

import (
	"fmt"
	"math"
)

// ChartPeriod is one period of a time chart: events counted and the size that they
// are counted over (units at risk for a rate, trials for a share). A period of
// size 0 is kept, shows no value and takes no part in any sum or rule.
type ChartPeriod struct {
	Events, Size float64
}

// ChartOptions steer a time chart.
type ChartOptions struct {
	// Baseline is the number of leading periods from which centre and spread are
	// taken; 0 means all of them.
	Baseline int
	// Laney widens or narrows the limits by the period-to-period variation (Laney
	// 2002, Quality Engineering 14:531).
	Laney bool
}

// ChartPoint is one period. Empty marks a period of size 0. High and Low are the
// limits at three standard errors; Beyond is -1 below them, 1 above, else 0.
type ChartPoint struct {
	Events, Size, Value, Low, High float64
	Empty                          bool
	Beyond                         int
}

// Signal names a rule that a chart broke. Code is stable; Text says it in words.
type Signal struct {
	Code, Text string
}

// Chart is a u- or p-chart with its rules applied. SigmaZ is Laney's ratio of seen
// to expected variation, 1 without the correction. FalseBeyond is the probability
// that a steady series of these sizes puts at least one point outside the limits,
// by the law of the counts with their variance taken SigmaZ^2 times as large;
// FalseSignal adds the runs rules and is an upper bound for any signal at all
// (Bonferroni). With Laney, FalseBeyond takes SigmaZ as known: from 36 periods the
// seen rate is about a tenth above it.
type Chart struct {
	Centre, SigmaZ           float64
	Points                   []ChartPoint
	Runs                     Runs
	Signals                  []Signal
	FalseBeyond, FalseSignal float64
	Warnings                 []Warning
}

// chartLaw is what u- and p-charts differ in.
type chartLaw struct {
	variance func(centre float64) float64
	cdf      func(size, centre float64) func(k float64) float64
	top      float64
}

// UChart charts events per unit of size: a Poisson law with limits at centre
// +- 3 SigmaZ sqrt(centre/size), cut at 0. The centre is the pooled rate.
// Errors: no period, none with a size, no event in the baseline, NaN, negatives.
func UChart(periods []ChartPeriod, opt ChartOptions) (Chart, error) {
	if err := checkPeriods(periods, opt, math.Inf(1)); err != nil {
		return Chart{}, err
	}
	return drawChart(periods, opt, chartLaw{
		variance: func(c float64) float64 { return c },
		cdf:      func(n, c float64) func(float64) float64 { return cmpPoissonCDF(n * c) },
		top:      math.Inf(1),
	})
}

// PChart charts the share of trials with an event: a binomial law with limits at
// centre +- 3 SigmaZ sqrt(centre (1-centre)/size), cut at 0 and 1. Errors as for
// UChart; more events than trials too.
func PChart(periods []ChartPeriod, opt ChartOptions) (Chart, error) {
	if err := checkPeriods(periods, opt, 1); err != nil {
		return Chart{}, err
	}
	return drawChart(periods, opt, chartLaw{
		variance: func(c float64) float64 { return c * (1 - c) },
		cdf:      cmpBinomialCDF,
		top:      1,
	})
}

func checkPeriods(periods []ChartPeriod, opt ChartOptions, top float64) error {
	if len(periods) == 0 {
		return fmt.Errorf("no periods: %w", ErrNoData)
	}
	if opt.Baseline < 0 || opt.Baseline > len(periods) {
		return fmt.Errorf("baseline of %d from %d periods: %w", opt.Baseline, len(periods), ErrBadInput)
	}
	for i, p := range periods {
		ok := finiteCount(p.Events) && finiteCount(p.Size)
		if !ok || p.Events > 0 && p.Size == 0 || p.Events > top*p.Size {
			return fmt.Errorf("period %d: %g events on %g: %w", i, p.Events, p.Size, ErrBadInput)
		}
	}
	return nil
}

func drawChart(periods []ChartPeriod, opt ChartOptions, law chartLaw) (Chart, error) {
	base := periods
	if opt.Baseline > 0 {
		base = periods[:opt.Baseline]
	}
	c := Chart{SigmaZ: 1, Points: make([]ChartPoint, len(periods)), Signals: []Signal{}, Warnings: []Warning{}}
	var events, size float64
	for _, p := range base {
		events, size = events+p.Events, size+p.Size
	}
	c.Centre = events / size
	if events == 0 || c.Centre >= law.top {
		return Chart{}, fmt.Errorf("no events, or nothing else, in the baseline: %w", ErrNoData)
	}
	spread := math.Sqrt(law.variance(c.Centre))
	if opt.Laney {
		c.laney(base, spread)
	}
	var values []float64
	for i, p := range periods {
		c.Points[i] = c.point(p, spread, law.top)
		if p.Size > 0 {
			values = append(values, c.Points[i].Value)
		}
	}
	var err error
	if c.Runs, err = CountRuns(values, c.Centre); err != nil {
		return Chart{}, err
	}
	c.FalseBeyond = c.falseBeyond(law)
	c.FalseSignal = min(1, c.FalseBeyond+c.Runs.FalseEither)
	c.Signals = c.broken()
	return c, nil
}

// laneyPeriods is the number of differences below which SigmaZ varies too much to
// be trusted; common practice for moving ranges, without a source.
const laneyPeriods = 12

// laney sets SigmaZ to the mean moving range of the z-scores over 1.128, the mean
// range of two standard normal values (2/sqrt(pi)).
func (c *Chart) laney(base []ChartPeriod, spread float64) {
	var last, sum float64
	n := 0
	for _, p := range base {
		if p.Size == 0 {
			continue
		}
		z := (p.Events/p.Size - c.Centre) * math.Sqrt(p.Size) / spread
		if n > 0 {
			sum += math.Abs(z - last)
		}
		last, n = z, n+1
	}
	if n-1 < laneyPeriods {
		c.Warnings = append(c.Warnings, Warning{"short-baseline", fmt.Sprintf("The variation between periods is estimated from %d periods; from %d on it is steadier.", n, laneyPeriods+1)})
	}
	if n < 2 || sum == 0 {
		c.Warnings = append(c.Warnings, Warning{"no-variation", "Too few or equal periods: limits come from the counts alone."})
		return
	}
	c.SigmaZ = sum / float64(n-1) * math.Sqrt(math.Pi) / 2
}

func (c *Chart) point(p ChartPeriod, spread, top float64) ChartPoint {
	if p.Size == 0 {
		return ChartPoint{Empty: true, High: top}
	}
	half := 3 * c.SigmaZ * spread / math.Sqrt(p.Size)
	out := ChartPoint{Events: p.Events, Size: p.Size, Value: p.Events / p.Size, Low: max(0, c.Centre-half), High: min(top, c.Centre+half)}
	switch {
	case out.Value < out.Low:
		out.Beyond = -1
	case out.Value > out.High:
		out.Beyond = 1
	}
	return out
}

// falseBeyond adds up, period by period, the tails outside the limits. Extra
// variation is modelled by an effective size smaller by SigmaZ^2.
func (c *Chart) falseBeyond(law chartLaw) float64 {
	steady := 1.0
	for _, p := range c.Points {
		if p.Empty {
			continue
		}
		n := p.Size / max(1, c.SigmaZ*c.SigmaZ)
		cdf := law.cdf(n, c.Centre)
		inside := cdf(math.Floor(p.High*n)) - cdf(math.Ceil(p.Low*n)-1)
		steady *= min(1, max(0, inside))
	}
	return 1 - steady
}

// broken names the rules that this chart breaks.
func (c *Chart) broken() []Signal {
	out := []Signal{}
	high, low := 0, 0
	for _, p := range c.Points {
		high, low = high+max(0, p.Beyond), low+max(0, -p.Beyond)
	}
	if high > 0 {
		out = append(out, Signal{"above-limit", fmt.Sprintf("Points above the upper limit: %d.", high)})
	}
	if low > 0 {
		out = append(out, Signal{"below-limit", fmt.Sprintf("Points below the lower limit: %d.", low)})
	}
	if c.Runs.Shift {
		out = append(out, Signal{"shift", fmt.Sprintf("A shift: %d in a row on one side of the centre, where a steady series has at most %d.", c.Runs.Longest, c.Runs.MaxRun)})
	}
	if c.Runs.FewCrossings {
		out = append(out, Signal{"few-crossings", fmt.Sprintf("Too few crossings of the centre: %d, where a steady series has at least %d.", c.Runs.Crossings, c.Runs.MinCrossings)})
	}
	return out
}
