package stats

import (
	"fmt"
	"math"
)

// SizeTwoProportions returns the number of units per group that finds the difference of
// two proportions in [0,1] by the normal test with pooled variance, no continuity
// correction:
//
//	n1 = (z_alpha/2 sqrt(q (1-q)(1 + 1/r)) + z_power sqrt(p1(1-p1) + p2(1-p2)/r))^2 / (p1-p2)^2
//
// with r the allocation and q the pooled proportion (p1 + r p2)/(1+r). Reference: Fleiss,
// Levin & Paik 2003, Statistical Methods for Rates and Proportions, chapter 4.
func SizeTwoProportions(first, second float64, d PowerDesign) (SampleSize, error) {
	if err := firstError(d.check(), checkProbability("first", first), checkProbability("second", second)); err != nil {
		return SampleSize{}, err
	}
	if first == second {
		return SampleSize{}, fmt.Errorf("no difference between %v and %v: %w", first, second, ErrBadInput)
	}
	za, zp := d.quantiles()
	pooled, apart := proportionSDs(first, second, d.Allocation)
	root := math.Max(0, za*pooled+zp*apart) / (first - second)
	out, err := d.size(root * root)
	if err == nil {
		a, b := float64(out.First), float64(out.Second)
		out.Warnings = fewExpected(a*math.Min(first, 1-first), b*math.Min(second, 1-second))
	}
	return out, err
}

// proportionSDs are the SDs, times the root of the first group's size, of the difference
// when both groups share the pooled proportion and when each has its own.
func proportionSDs(p1, p2, r float64) (pooled, apart float64) {
	q := (p1 + r*p2) / (1 + r)
	return math.Sqrt(q * (1 - q) * (1 + 1/r)), math.Sqrt(p1*(1-p1) + p2*(1-p2)/r)
}

// DetectableProportion returns the proportions of the second group that n units in the
// first would tell from the proportion there, by halving on the formula of
// SizeTwoProportions to the last digits.
func DetectableProportion(first float64, n int64, d PowerDesign) (Detectable, error) {
	units, err := d.independent(n)
	if err := firstError(d.check(), err, checkProbability("first", first)); err != nil {
		return Detectable{}, err
	}
	za, zp := d.quantiles()
	found := func(second float64) bool {
		pooled, apart := proportionSDs(first, second, d.Allocation)
		return math.Abs(first-second)*math.Sqrt(units) >= za*pooled+zp*apart
	}
	return Detectable{Below: nearestFound(first, 0, math.Inf(-1), found), Above: nearestFound(first, 1, math.Inf(1), found)}, nil
}

// nearestFound walks from a value where nothing is found towards end in a thousand
// steps, because power need not rise all the way, and halves the first step that finds.
func nearestFound(from, end, none float64, found func(float64) bool) float64 {
	const steps = 1000
	lo, hi := from, from
	for k := 1.0; k <= steps && from != end; k++ {
		if hi = from + (end-from)*(k/steps); found(hi) {
			break
		}
		lo = hi
	}
	if lo == hi {
		return none
	}
	for middle := lo + (hi-lo)/2; middle != lo && middle != hi; middle = lo + (hi-lo)/2 {
		if found(middle) {
			hi = middle
		} else {
			lo = middle
		}
	}
	return hi
}
