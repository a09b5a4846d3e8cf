package stats

import (
	"fmt"
	"math"
)

// RatePair describes counts per unit in two groups: mean events a unit over its time at
// risk, and variance over mean, which is the same in both (1 for Poisson).
type RatePair struct {
	First, Second, Dispersion float64
}

// SizeTwoRates returns the number of units per group that finds the difference of two
// mean counts, by the normal test on the difference:
//
//	n1 = (z_alpha/2 + z_power)^2 Dispersion (First + Second/Allocation) / (First - Second)^2
//
// Means are >= 0, not both 0, and differ; dispersion > 0. For a negative binomial with
// size theta the dispersion is 1 + mean/theta. Fewer than about 10 expected events in a
// group carries a warning: the normal law is poor there.
func SizeTwoRates(p RatePair, d PowerDesign) (SampleSize, error) {
	if err := firstError(d.check(), checkRateMean(p.First), checkRateMean(p.Second), checkDispersion(p.Dispersion)); err != nil {
		return SampleSize{}, err
	}
	if p.First == p.Second {
		return SampleSize{}, fmt.Errorf("no difference between %v and %v: %w", p.First, p.Second, ErrBadInput)
	}
	za, zp := d.quantiles()
	gap := p.First - p.Second
	n := (za + zp) * (za + zp) * p.Dispersion * (p.First + p.Second/d.Allocation) / (gap * gap)
	out, err := d.size(n)
	if err == nil {
		out.Warnings = fewExpected(p.First*float64(out.First), p.Second*float64(out.Second))
	}
	return out, err
}

// DetectableRate returns the mean counts of the second group that n units in the first
// would tell from the mean there, as the two roots of the formula of SizeTwoRates.
func DetectableRate(first, dispersion float64, n int64, d PowerDesign) (Detectable, error) {
	units, err := d.independent(n)
	if err := firstError(d.check(), err, checkRateMean(first), checkDispersion(dispersion)); err != nil {
		return Detectable{}, err
	}
	za, zp := d.quantiles()
	k := (za + zp) * (za + zp) * dispersion / units
	// gap^2 - k/r gap - k first (1 + 1/r) = 0; the second root from the product of both.
	b := k / d.Allocation
	c := k * first * (1 + 1/d.Allocation)
	up := (b + math.Sqrt(b*b+4*c)) / 2
	out := Detectable{Below: math.Inf(-1), Above: first + up}
	if down := c / up; down > 0 && down <= first {
		out.Below = first - down
	}
	return out, nil
}

func checkRateMean(v float64) error {
	if !(v >= 0 && v <= 1e12) {
		return fmt.Errorf("mean count %v: %w", v, ErrBadInput)
	}
	return nil
}

func checkDispersion(v float64) error {
	if !(v > 0 && v <= 1e9) {
		return fmt.Errorf("dispersion %v: %w", v, ErrBadInput)
	}
	return nil
}

// fewExpected warns where the smaller expected number of events is below 10.
func fewExpected(a, b float64) []Warning {
	least := math.Min(a, b)
	if least >= 10 {
		return nil
	}
	return []Warning{{"few-expected", fmt.Sprintf("Only %.1f events are expected in a group: the number is rough, an exact test needs more.", least)}}
}
