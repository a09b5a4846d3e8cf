package stats

import (
	"fmt"
	"math"
)

// Reliability is the share of the variance of readings that is between subjects.
type Reliability struct {
	// Value is an estimate of B / (B + W/m) for between and within variances B and W
	// and the mean of m readings. It can fall below 0 by chance; it is not cut off.
	Value float64
	// SE is from the delta method and the exact variances of the mean squares of an
	// unbalanced design under normal laws.
	SE float64
	// Between and Within are variance components in the squared unit of the readings;
	// Between may be negative.
	Between, Within float64
}

// Reliability returns the reliability of the mean of m >= 1 readings. Fewer than two
// subjects or no repeat is ErrNoData; readings that are all equal are ErrNoAnswer.
// Reference: Searle, Casella & McCulloch 1992, Variance Components, sections 3.6-3.7.
func (r Repeats) Reliability(m float64) (Reliability, error) {
	if err := r.check(); err != nil {
		return Reliability{}, err
	}
	if !(m >= 1 && m <= 1e9) {
		return Reliability{}, fmt.Errorf("%v readings to average: %w", m, ErrBadInput)
	}
	if r.dfWithin() == 0 || r.Subjects < 2 {
		return Reliability{}, fmt.Errorf("%d readings of %d subjects: %w", r.Readings, r.Subjects, ErrNoData)
	}
	if r.Within == 0 && r.Between == 0 {
		return Reliability{}, fmt.Errorf("all readings are equal: %w", ErrNoAnswer)
	}
	between, within, size := r.Between/r.dfBetween(), r.Within/r.dfWithin(), r.size()
	out := Reliability{Between: (between - within) / size, Within: within}
	total := out.Between + within/m
	if !(total > 0) {
		return Reliability{}, fmt.Errorf("subjects differ less than their repeats: %w", ErrNoAnswer)
	}
	out.Value = out.Between / total
	// In units of the total variance, so that squares neither vanish nor overflow.
	w := within / total
	varBetween, varWithin := r.meanSquareVariances(math.Max(0, out.Value), w)
	byBetween, byWithin := w/m/size, -(w/m/size + out.Value/m)
	out.SE = math.Sqrt(byBetween*byBetween*varBetween + byWithin*byWithin*varWithin)
	return out, nil
}

// meanSquareVariances returns the variances of the two mean squares, which are
// independent, for normal laws with the given components.
func (r Repeats) meanSquareVariances(between, within float64) (ofBetween, ofWithin float64) {
	n, df := float64(r.Readings), r.dfBetween()
	ofBetween = 2 / (df * df) * (within*within*df + 2*within*between*(n-r.Squares/n) +
		between*between*(r.Squares+r.Squares*r.Squares/(n*n)-2*r.Cubes/n))
	return ofBetween, 2 * within * within / r.dfWithin()
}

// Given returns the reliability among subjects alike in other columns that predict the
// readings with share r2 in [0, Value) of their variance. A slope from a model with
// those columns shrinks by this, not by the plain reliability. r2 is taken as known.
// Reference: Carroll et al. 2006, Measurement Error in Nonlinear Models, section 3.3.
func (r Reliability) Given(r2 float64) (Reliability, error) {
	if !(r2 >= 0 && r2 < 1) {
		return Reliability{}, fmt.Errorf("R squared %v: %w", r2, ErrBadInput)
	}
	if r2 >= r.Value {
		return Reliability{}, fmt.Errorf("other columns explain %.3g, reliability is %.3g: %w", r2, r.Value, ErrNoAnswer)
	}
	r.Value, r.SE = (r.Value-r2)/(1-r2), r.SE/(1-r2)
	return r, nil
}

// IntraclassCorrelation is ICC(1,1): the reliability of a single reading.
type IntraclassCorrelation struct {
	Reliability
	Limits   Interval
	F        float64 // between over within mean square, +Inf when all repeats agree
	Warnings []Warning
}

// ICC returns ICC(1,1) with limits by the F law at the given level in (0,1); exact for
// normal laws when all subjects have the same number of readings, otherwise by the
// average number and with a warning. Reference: Shrout & Fleiss 1979, Psychol Bull
// 86:420.
func (r Repeats) ICC(level float64) (IntraclassCorrelation, error) {
	if err := checkLevel(level); err != nil {
		return IntraclassCorrelation{}, err
	}
	rel, err := r.Reliability(1)
	if err != nil {
		return IntraclassCorrelation{}, err
	}
	d1, d2, size, tail := r.dfBetween(), r.dfWithin(), r.size(), (1-level)/2
	out := IntraclassCorrelation{Reliability: rel, F: r.Between / d1 / (r.Within / d2)}
	at := func(f float64) float64 {
		if math.IsInf(f, 1) {
			return 1
		}
		return (f - 1) / (f + size - 1)
	}
	out.Limits = Interval{at(out.F / fQuantile(tail, d1, d2)), at(out.F * fQuantile(tail, d2, d1))}
	if n := float64(r.Readings); r.Squares*float64(r.Subjects) > n*n*(1+1e-9) {
		out.Warnings = append(out.Warnings, Warning{"unbalanced", "Subjects have different numbers of readings: the limits are approximate."})
	}
	if rel.Value < 0 {
		out.Warnings = append(out.Warnings, Warning{"negative-icc", "Subjects differ less than their repeats: read the correlation as 0."})
	}
	return out, nil
}

// LimitsOfAgreement says how far apart two methods or readers may be on one subject.
// All values are in the unit of the differences.
type LimitsOfAgreement struct {
	N                        int64
	Bias, SD                 float64 // mean and SD of the differences
	BiasLimits               Interval
	Lower, Upper             float64 // Bias -/+ 1.96 SD
	LowerLimits, UpperLimits Interval
	Warnings                 []Warning
}

// fewPairs is where the limits of agreement get an interval of about half an SD.
const fewPairs = 50

// AgreementLimits returns the 95 % limits of agreement from n >= 2 paired differences
// with the given mean and SD (divisor n-1). The level in (0,1) is that of the
// intervals for the bias and for each limit, by Student's t and
//
//	Var(limit) = SD^2 (1/n + 1.96^2 / (2(n-1))).
//
// One difference a subject; differences should be normal and not grow with the size
// measured. Reference: Bland & Altman 1986, Lancet i:307; 1999, Stat Methods Med Res
// 8:135, whose variance is used.
func AgreementLimits(n int64, mean, sd, level float64) (LimitsOfAgreement, error) {
	if err := checkLevel(level); err != nil {
		return LimitsOfAgreement{}, err
	}
	if n < 2 && n >= 0 {
		return LimitsOfAgreement{}, fmt.Errorf("%d differences: %w", n, ErrNoData)
	}
	if n < 0 || n > 1e10 || !(math.Abs(mean) <= 1e150) || !(sd >= 0 && sd <= 1e150) {
		return LimitsOfAgreement{}, fmt.Errorf("n %d, mean %v, SD %v: %w", n, mean, sd, ErrBadInput)
	}
	z, size, df := intervalZ(0.95), float64(n), float64(n-1)
	t := tQuantile(level, df)
	half, reach := t*sd/math.Sqrt(size), t*sd*math.Sqrt(1/size+z*z/(2*df))
	out := LimitsOfAgreement{N: n, Bias: mean, SD: sd, Lower: mean - z*sd, Upper: mean + z*sd}
	out.BiasLimits = Interval{mean - half, mean + half}
	out.LowerLimits = Interval{out.Lower - reach, out.Lower + reach}
	out.UpperLimits = Interval{out.Upper - reach, out.Upper + reach}
	if n < fewPairs {
		out.Warnings = []Warning{{"few-pairs", fmt.Sprintf("Only %d pairs: %d or more would pin the limits down.", n, fewPairs)}}
	}
	return out, nil
}
