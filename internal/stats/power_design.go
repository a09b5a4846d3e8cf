package stats

import (
	"fmt"
	"math"
)

// PowerDesign is what all sample-size questions share: two groups, a two-sided test.
type PowerDesign struct {
	// Alpha is the two-sided error and Power the chance to find the difference, both
	// in (0,1).
	Alpha, Power float64
	// Allocation is the size of the second group over that of the first, > 0.
	Allocation float64
	// Inflation is the design effect of clusters, >= 1: 1 + (m-1) ICC for clusters of m.
	Inflation float64
}

// DefaultPowerDesign is two equal groups of independent units, 5 % and 80 %.
var DefaultPowerDesign = PowerDesign{Alpha: 0.05, Power: 0.8, Allocation: 1, Inflation: 1}

// SampleSize is the number of units needed. First and Second are Exact rounded up, for
// each group; Exact is that of the first group before rounding.
type SampleSize struct {
	First, Second int64
	Exact         float64
	Warnings      []Warning
}

// Detectable gives the nearest values of the second group, below and above the first's,
// that would be found with the design's power. -Inf below or +Inf above means that no
// possible value would be.
type Detectable struct {
	Below, Above float64
}

// check refuses a design outside its domain.
func (d PowerDesign) check() error {
	if err := firstError(checkLevel(1-d.Alpha), checkLevel(d.Power)); err != nil {
		return err
	}
	if d.Power <= d.Alpha/2 {
		return fmt.Errorf("power %v is not above half of alpha %v: %w", d.Power, d.Alpha, ErrBadInput)
	}
	if !(d.Allocation >= 1e-6 && d.Allocation <= 1e6) || !(d.Inflation >= 1 && d.Inflation <= 1e6) {
		return fmt.Errorf("allocation %v, inflation %v: %w", d.Allocation, d.Inflation, ErrBadInput)
	}
	return nil
}

// quantiles returns the normal quantiles of the test and of the power.
func (d PowerDesign) quantiles() (test, power float64) {
	return intervalZ(1 - d.Alpha), -intervalZ(1 - 2*d.Power)
}

// maxGroup is beyond any real study and below where counts lose digits.
const maxGroup = 1e15

// size turns an exact first-group number of independent units into whole units.
func (d PowerDesign) size(independent float64) (SampleSize, error) {
	exact := independent * d.Inflation
	second := exact * d.Allocation
	if !(exact <= maxGroup && second <= maxGroup) {
		return SampleSize{}, fmt.Errorf("more than %g units: %w", float64(maxGroup), ErrNoAnswer)
	}
	return SampleSize{First: wholeUnits(exact), Second: wholeUnits(second), Exact: exact}, nil
}

// wholeUnits rounds up, but not for the dust of floating point.
func wholeUnits(n float64) int64 { return int64(math.Max(1, math.Ceil(n*(1-1e-12)))) }

// independent is the number of independent units that n clustered ones are worth.
func (d PowerDesign) independent(n int64) (float64, error) {
	if n < 1 || n > maxGroup {
		return 0, fmt.Errorf("%d units: %w", n, ErrBadInput)
	}
	return float64(n) / d.Inflation, nil
}
