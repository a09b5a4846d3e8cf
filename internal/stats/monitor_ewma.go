package stats

import (
	"fmt"
	"math"
	"math/rand/v2"
)

// EWMAPoint is one period of an exponentially weighted moving average, with its
// limits. Beyond is -1 below, 1 above, else 0.
type EWMAPoint struct {
	Value, Smoothed, Low, High float64
	Beyond                     int
}

// EWMA smooths values about a centre: Z_t = weight value_t + (1-weight) Z_{t-1}, Z_0
// = centre (Roberts 1959). sd holds each value's standard deviation, so that
// periods of different size have limits of their own:
//
//	V_t = weight^2 sd_t^2 + (1-weight)^2 V_{t-1}, V_0 = 0
//	limits: centre +- width sqrt(V_t)
//
// With equal sd these are the exact, time-varying limits, narrower at the start
// than the usual asymptotic ones. weight is in (0,1], width positive; sd must be
// above 0.
func EWMA(values, sd []float64, centre, weight, width float64) ([]EWMAPoint, error) {
	if err := checkEWMA(weight, width); err != nil {
		return nil, err
	}
	if len(values) == 0 {
		return nil, fmt.Errorf("no values: %w", ErrNoData)
	}
	if len(sd) != len(values) || math.IsNaN(centre) || math.IsInf(centre, 0) {
		return nil, fmt.Errorf("%d values, %d deviations, centre %g: %w", len(values), len(sd), centre, ErrBadInput)
	}
	out := make([]EWMAPoint, len(values))
	z, v := centre, 0.0
	for i, x := range values {
		if math.IsNaN(x) || math.IsInf(x, 0) || !(sd[i] > 0) || math.IsInf(sd[i], 1) {
			return nil, fmt.Errorf("value %d is %g with deviation %g: %w", i, x, sd[i], ErrBadInput)
		}
		z = weight*x + (1-weight)*z
		v = weight*weight*sd[i]*sd[i] + (1-weight)*(1-weight)*v
		half := width * math.Sqrt(v)
		out[i] = EWMAPoint{Value: x, Smoothed: z, Low: centre - half, High: centre + half, Beyond: sideOf(z-centre, half)}
	}
	return out, nil
}

func sideOf(off, half float64) int {
	switch {
	case off > half:
		return 1
	case off < -half:
		return -1
	}
	return 0
}

func checkEWMA(weight, width float64) error {
	if !(weight > 0 && weight <= 1) || !(width > 0) || math.IsInf(width, 1) {
		return fmt.Errorf("weight %g, width %g: %w", weight, width, ErrBadInput)
	}
	return nil
}

// SimulateEWMA draws run lengths of an EWMA with time-varying limits for normal
// values with standard deviation 1 whose mean is off its centre by shift standard
// deviations from the first value on (0: in control). For runs, longest and seed
// see CusumDesign.Simulate.
func SimulateEWMA(weight, width, shift float64, runs, longest int, seed uint64) (RunLengths, error) {
	if err := checkEWMA(weight, width); err != nil {
		return RunLengths{}, err
	}
	if math.IsNaN(shift) || math.IsInf(shift, 0) {
		return RunLengths{}, fmt.Errorf("shift %g: %w", shift, ErrBadInput)
	}
	keep := 1 - weight
	return simulateRuns(runs, longest, seed, func(rng *rand.Rand) func() bool {
		z, v := 0.0, 0.0
		return func() bool {
			z = weight*(shift+rng.NormFloat64()) + keep*z
			v = weight*weight + keep*keep*v
			return math.Abs(z) > width*math.Sqrt(v)
		}
	})
}
