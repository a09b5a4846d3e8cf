package stats

import (
	"fmt"
	"math"
)

// UnitCount is what one unit contributes to a comparison: events observed and
// events expected from its case mix. Both may be fractions, since counts that
// vary more than a Poisson law allows are divided by their dispersion first
// (see Disperse).
type UnitCount struct {
	Observed, Expected float64
}

// UnitRatio is a standardised ratio: Observed over Expected with its exact
// limits. With nothing expected the ratio is undefined: it is 0 and the limits
// run from 0 to +Inf.
type UnitRatio struct {
	Observed, Expected, Ratio float64
	Limits                    Interval
}

// Disperse divides both counts of every unit by the dispersion phi, the variance
// of the outcome over its mean once the case mix is fitted. The ratio stays, the
// limits widen by about the root of phi: an effective-sample-size correction.
// phi below 1 is taken as 1, so that a lucky estimate never narrows limits.
func Disperse(units []UnitCount, phi float64) ([]UnitCount, error) {
	if !(phi > 0) || math.IsInf(phi, 0) {
		return nil, fmt.Errorf("dispersion %g: %w", phi, ErrBadInput)
	}
	phi = max(phi, 1)
	out := make([]UnitCount, len(units))
	for i, u := range units {
		out[i] = UnitCount{u.Observed / phi, u.Expected / phi}
	}
	return out, nil
}

// IndirectRatios standardises indirectly: for each unit observed over expected,
// with limits from the gamma law (Garwood 1936). They are the exact Poisson limits
// where Observed is a whole number and their continuous extension where it has
// been divided by a dispersion. level is in (0,1), such as 0.95.
func IndirectRatios(units []UnitCount, level float64) ([]UnitRatio, error) {
	if err := checkUnits(units); err != nil {
		return nil, err
	}
	if err := checkLevel(level); err != nil {
		return nil, err
	}
	out := make([]UnitRatio, len(units))
	for i, u := range units {
		out[i] = indirectRatio(u, level)
	}
	return out, nil
}

func indirectRatio(u UnitCount, level float64) UnitRatio {
	r := UnitRatio{Observed: u.Observed, Expected: u.Expected, Limits: Interval{0, math.Inf(1)}}
	if u.Expected == 0 {
		return r
	}
	r.Ratio = u.Observed / u.Expected
	r.Limits = garwood(u.Observed, u.Expected, level)
	return r
}

// checkUnits refuses NaN, negative and boundless counts, and events where none
// could be expected.
func checkUnits(units []UnitCount) error {
	if len(units) == 0 {
		return fmt.Errorf("no units: %w", ErrNoData)
	}
	for i, u := range units {
		if !finiteCount(u.Observed) || !finiteCount(u.Expected) {
			return fmt.Errorf("unit %d: observed %g, expected %g: %w", i, u.Observed, u.Expected, ErrBadInput)
		}
		if u.Expected == 0 && u.Observed > 0 {
			return fmt.Errorf("unit %d: %g events where none is expected: %w", i, u.Observed, ErrBadInput)
		}
	}
	return nil
}

// finiteCount bounds counts so that sums of two stay within the tail functions.
func finiteCount(x float64) bool { return x >= 0 && x <= maxTailParameter/4 }
