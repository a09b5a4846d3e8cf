package stats

import (
	"fmt"
	"math"
)

// Period is one step of a control chart: events and what they are counted
// against (exposure for a u-chart, trials for a p-chart). Both may be fractions.
type Period struct {
	Events, Size float64
}

// ChartOptions steer a control chart.
type ChartOptions struct {
	// Baseline is how many of the first periods set the centre line and the spread;
	// 0 means all of them.
	Baseline int
	// Width is the distance of the limits from the centre in standard errors.
	Width float64
	// Laney widens the limits by the spread seen from period to period.
	Laney bool
}

// DefaultChart uses all periods, three standard errors and no correction.
func DefaultChart() ChartOptions { return ChartOptions{Width: 3} }

// ChartPoint is one period. Z is its distance from the centre in standard errors
// of the plain law; Beyond is -1 below the limits, 1 above them, else 0. A period
// of size 0 has the whole range as limits, Value 0 and Beyond 0: it says nothing.
type ChartPoint struct {
	Value, Size, Z float64
	Limits         Interval
	Beyond         int
}

// Chart is a control chart in the order of its periods. SigmaZ is Laney's spread,
// the mean moving range of Z over the baseline divided by 1.128; it is 0 where
// fewer than two baseline periods have a size, and is reported whether or not the
// limits use it.
type Chart struct {
	Center, SigmaZ float64
	Points         []ChartPoint
	Warnings       []Warning

	variance float64 // of a period of size 1, Laney's spread included if used
	top      float64 // largest possible value
}

// movingRangeFactor is the mean distance of two independent standard normal values.
var movingRangeFactor = 2 / math.Sqrt(math.Pi)

// fewPeriods is the number of baseline periods below which limits wander; 20 is
// common practice, no source.
const fewPeriods = 20

// UChart charts events per unit of size. The centre c is the pooled rate of the
// baseline, and the limits of a period are
//
//	c +- Width sqrt(c/size), never below 0,
//
// times SigmaZ with Laney's correction (u'-chart), for counts that vary by more
// than a Poisson law allows. The correction may narrow limits too, as its author
// intends. No event, or no exposure, in the baseline is ErrNoData.
// Laney's correction is checked on published data (Mohammed et al. 2013, BMJ Qual Saf
// 22:362) against formulas in R; no package of Debian has it.
// Sources: Shewhart's rule as in Montgomery, Introduction to Statistical Quality
// Control; Laney 2002, Quality Engineering 14:531.
func UChart(periods []Period, opt ChartOptions) (Chart, error) {
	if err := checkPeriods(periods, math.Inf(1)); err != nil {
		return Chart{}, err
	}
	return drawChart(periods, opt, math.Inf(1), func(c float64) float64 { return c })
}

// PChart charts events out of trials: as UChart with variance c(1-c)/size and
// limits inside 0 to 1. A baseline in which every trial is an event is ErrNoData.
func PChart(periods []Period, opt ChartOptions) (Chart, error) {
	if err := checkPeriods(periods, 1); err != nil {
		return Chart{}, err
	}
	return drawChart(periods, opt, 1, func(c float64) float64 { return c * (1 - c) })
}

// checkPeriods refuses sizes and events out of range; top is the largest value.
func checkPeriods(periods []Period, top float64) error {
	if len(periods) == 0 {
		return fmt.Errorf("no periods: %w", ErrNoData)
	}
	for i, p := range periods {
		if !finiteCount(p.Events) || !finiteCount(p.Size) || p.Size == 0 && p.Events > 0 || p.Size > 0 && p.Events/p.Size > top {
			return fmt.Errorf("period %d: %g events, size %g: %w", i, p.Events, p.Size, ErrBadInput)
		}
	}
	return nil
}

func drawChart(periods []Period, opt ChartOptions, top float64, unitVariance func(center float64) float64) (Chart, error) {
	base, err := chartBaseline(periods, opt)
	if err != nil {
		return Chart{}, err
	}
	c := Chart{Points: make([]ChartPoint, len(periods)), Warnings: []Warning{}}
	if c.Center = pooledRate(base); !(c.Center > 0 && c.Center < top) {
		return Chart{}, fmt.Errorf("no events, or nothing else, in the baseline: %w", ErrNoData)
	}
	unit := unitVariance(c.Center)
	for i, p := range periods {
		c.Points[i] = ChartPoint{Size: p.Size, Limits: Interval{0, top}}
		if p.Size > 0 {
			c.Points[i].Value = p.Events / p.Size
			c.Points[i].Z = (p.Events/p.Size - c.Center) / math.Sqrt(unit/p.Size)
		}
	}
	c.SigmaZ = movingSpread(c.Points[:len(base)])
	c.limit(opt, unit, top)
	c.warn(base, opt)
	return c, nil
}

func chartBaseline(periods []Period, opt ChartOptions) ([]Period, error) {
	if opt.Baseline < 0 || opt.Baseline > len(periods) || !(opt.Width > 0) || math.IsInf(opt.Width, 0) {
		return nil, fmt.Errorf("chart options %+v for %d periods: %w", opt, len(periods), ErrBadInput)
	}
	if opt.Baseline == 0 {
		return periods, nil
	}
	return periods[:opt.Baseline], nil
}

// pooledRate is the sum of events over the sum of sizes, 0 when there is no size.
func pooledRate(periods []Period) float64 {
	var events, size float64
	for _, p := range periods {
		events, size = events+p.Events, size+p.Size
	}
	if size == 0 {
		return 0
	}
	return events / size
}

// movingSpread is the mean distance between successive periods that have a size,
// over movingRangeFactor.
func movingSpread(points []ChartPoint) float64 {
	sum, n, before := 0.0, 0.0, math.NaN()
	for _, p := range points {
		if p.Size == 0 {
			continue
		}
		if !math.IsNaN(before) {
			sum, n = sum+math.Abs(p.Z-before), n+1
		}
		before = p.Z
	}
	if n == 0 {
		return 0
	}
	return sum / n / movingRangeFactor
}

// limit sets limits and flags. Without two periods to compare, Laney's spread is
// unknown and the plain limits stand.
func (c *Chart) limit(opt ChartOptions, unit, top float64) {
	c.top, c.variance = top, unit
	if opt.Laney && c.SigmaZ > 0 {
		c.variance *= c.SigmaZ * c.SigmaZ
	}
	for i := range c.Points {
		p := &c.Points[i]
		if p.Size == 0 {
			continue
		}
		half := opt.Width * math.Sqrt(c.variance/p.Size)
		p.Limits = Interval{max(0, c.Center-half), min(top, c.Center+half)}
		p.Beyond = beyond(p.Value, p.Limits)
	}
}

func beyond(v float64, limits Interval) int {
	switch {
	case v < limits.Low:
		return -1
	case v > limits.High:
		return 1
	}
	return 0
}

func (c *Chart) warn(base []Period, opt ChartOptions) {
	used := 0
	for _, p := range base {
		if p.Size > 0 {
			used++
		}
	}
	if used < fewPeriods {
		c.Warnings = append(c.Warnings, Warning{"few-periods", fmt.Sprintf("The limits rest on %d periods; with at least %d they would be steadier.", used, fewPeriods)})
	}
	if opt.Laney && c.SigmaZ == 0 {
		c.Warnings = append(c.Warnings, Warning{"no-spread", "No spread from period to period could be seen, so the limits are the plain ones."})
	}
}
