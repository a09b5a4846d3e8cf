package stats

import (
	"fmt"
	"math"
)

// EWMAOptions steer an EWMA chart.
type EWMAOptions struct {
	// Weight is the share of the newest value, in (0,1]; 0.2 is usual.
	Weight float64
	// Width is the distance of the limits in standard errors of the average.
	Width float64
}

// DefaultEWMA has weight 0.2 and width 2.86, about 370 periods between false signals.
func DefaultEWMA() EWMAOptions { return EWMAOptions{Weight: 0.2, Width: 2.86} }

// EWMA averages a chart's values with weights that fade, starting at the centre:
//
//	e_i = w x_i + (1-w) e_(i-1), variance v_i = w^2 s_i^2 + (1-w)^2 v_(i-1), v_0 = 0,
//
// where s_i is the standard error of period i in the chart, Laney's spread included
// if the chart used it. Limits are centre +- Width sqrt(v_i), cut to the range of
// the chart's values; so early limits and those of large periods are closer. A
// period of size 0 adds nothing: average and limits stay. Value of a point is the
// average and Z its distance from the centre in sqrt(v_i), 0 before any size.
// Source: Roberts 1959, Technometrics 1:239; Lucas & Saccucci 1990, Technometrics 32:1.
func (c Chart) EWMA(opt EWMAOptions) ([]ChartPoint, error) {
	if !(opt.Weight > 0 && opt.Weight <= 1 && opt.Width > 0) || math.IsInf(opt.Width, 0) {
		return nil, fmt.Errorf("EWMA options %+v: %w", opt, ErrBadInput)
	}
	out := make([]ChartPoint, len(c.Points))
	average, variance := c.Center, 0.0
	for i, p := range c.Points {
		if p.Size > 0 {
			fade := 1 - opt.Weight
			average = opt.Weight*p.Value + fade*average
			variance = opt.Weight*opt.Weight*c.variance/p.Size + fade*fade*variance
		}
		out[i] = c.averaged(average, math.Sqrt(variance), p.Size, opt.Width)
	}
	return out, nil
}

func (c Chart) averaged(average, se, size, width float64) ChartPoint {
	p := ChartPoint{Value: average, Size: size, Limits: Interval{0, c.top}}
	if se == 0 {
		return p
	}
	p.Z = (average - c.Center) / se
	p.Limits = Interval{max(0, c.Center-width*se), min(c.top, c.Center+width*se)}
	p.Beyond = beyond(average, p.Limits)
	return p
}
