package stats

import (
	"fmt"
	"math"
)

// EValue tells how strong hidden confounding would have to be: the least risk ratio
// that one unmeasured cause would need with both exposure and outcome, beyond the
// measured columns, to move the estimate (or its limit nearest no effect) to no effect.
// No package of Debian computes it: checked by a root search on the bounding factor in R
// and on the paper's examples. Both are at least 1; a Limit of 1 means that the interval holds no effect already.
// Reference: VanderWeele & Ding 2017, Ann Intern Med 167:268.
type EValue struct {
	Estimate, Limit float64
	Warnings        []Warning
}

// EValueRatio takes a risk or rate ratio > 0 with its limits, or a hazard or odds
// ratio of an outcome that stays rare (below about 15 % by the end of follow-up):
//
//	E = RR + sqrt(RR (RR - 1)), with 1/RR for RR below 1
func EValueRatio(ratio float64, limits Interval) (EValue, error) {
	return eValueOn(ratio, limits, func(v float64) float64 { return v })
}

// EValueHazardRatio takes a hazard ratio of an outcome that is not rare (15 % or more),
// turned into an approximate risk ratio (1 - 0.5^sqrt(HR)) / (1 - 0.5^sqrt(1/HR)).
func EValueHazardRatio(ratio float64, limits Interval) (EValue, error) {
	return eValueOn(ratio, limits, func(v float64) float64 {
		return math.Expm1(-math.Ln2*math.Sqrt(v)) / math.Expm1(-math.Ln2*math.Sqrt(1/v))
	})
}

// EValueOddsRatio takes an odds ratio of an outcome that is not rare (15 % or more), by
// its square root.
func EValueOddsRatio(ratio float64, limits Interval) (EValue, error) {
	return eValueOn(ratio, limits, math.Sqrt)
}

// EValueMeanDifference takes a difference of means in units of the outcome's SD, with
// its standard error, by RR = exp(0.91 d) and limits exp(0.91 d -/+ 1.78 se), which
// are 95 % limits.
func EValueMeanDifference(d, se float64) (EValue, error) {
	if !(math.Abs(d) <= 100) || !(se >= 0 && se <= 100) {
		return EValue{}, fmt.Errorf("difference %v, standard error %v: %w", d, se, ErrBadInput)
	}
	ratio := Interval{math.Exp(0.91*d - 1.78*se), math.Exp(0.91*d + 1.78*se)}
	return EValueRatio(math.Exp(0.91*d), ratio)
}

// EValueDifference takes a difference of risks or rates with its limits, beside the
// risk or rate > 0 of the reference group, as the ratio (reference + d) / reference.
// The reference is taken as known, and a warning says so; where a model gives the
// ratio's own interval, EValueRatio is better. An estimate at or below -reference is
// an error; so is NaN.
func EValueDifference(reference, difference float64, limits Interval) (EValue, error) {
	if !(reference > 0 && reference <= math.MaxFloat64) {
		return EValue{}, fmt.Errorf("reference %v: %w", reference, ErrBadInput)
	}
	ratio := func(d float64) float64 { return 1 + d/reference }
	out, err := EValueRatio(ratio(difference), Interval{math.Max(0, ratio(limits.Low)), ratio(limits.High)})
	if err != nil {
		return EValue{}, err
	}
	out.Warnings = append(out.Warnings, Warning{"reference-known", "The reference group's own uncertainty is left out of the limit's E-value."})
	return out, nil
}

func eValueOn(ratio float64, limits Interval, toRisk func(float64) float64) (EValue, error) {
	if !(ratio > 0 && ratio <= math.MaxFloat64) || !(limits.Low >= 0 && limits.Low <= ratio && ratio <= limits.High) {
		return EValue{}, fmt.Errorf("ratio %v with limits %v to %v: %w", ratio, limits.Low, limits.High, ErrBadInput)
	}
	out := EValue{Estimate: eValue(toRisk(ratio)), Limit: 1}
	switch {
	case limits.Low > 1:
		out.Limit = eValue(toRisk(limits.Low))
	case limits.High < 1:
		out.Limit = eValue(toRisk(limits.High))
	}
	return out, nil
}

// eValue is the formula for a risk ratio above 0.
func eValue(rr float64) float64 {
	if rr < 1 {
		rr = 1 / rr
	}
	return rr + math.Sqrt(rr)*math.Sqrt(rr-1)
}
