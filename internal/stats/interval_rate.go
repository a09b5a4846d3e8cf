package stats

import (
	"fmt"
	"math"
)

// checkRate refuses a negative or huge count and an exposure that is not above zero.
func checkRate(k int64, exposure, level float64) error {
	if exposure == 0 {
		return fmt.Errorf("no exposure: %w", ErrNoData)
	}
	if !(exposure > 0) || math.IsInf(exposure, 0) {
		return fmt.Errorf("exposure %v is not finite and above 0: %w", exposure, ErrBadInput)
	}
	return firstError(checkCount("count", k), checkLevel(level))
}

// PoissonExact returns the exact interval for the rate k/exposure (events per unit
// of exposure): half the chi-square quantiles with 2k and 2k+2 degrees of freedom.
// k = 0 gives a low limit of 0; exposure 0 is ErrNoData; k is at most 1e10. It covers at
// least the level, and more with few events: see PoissonExactWarnings.
// Reference: Garwood 1936, Biometrika 28:437.
func PoissonExact(k int64, exposure, level float64) (Interval, error) {
	if err := checkRate(k, exposure, level); err != nil {
		return Interval{}, err
	}
	return garwood(float64(k), exposure, level), nil
}

// garwood is PoissonExact for arguments known to be good; the gamma law continues
// it to counts that are not whole.
func garwood(k, exposure, level float64) Interval {
	tail := (1 - level) / 2
	iv := Interval{High: gammaQuantile(tail, k+1, true) / exposure}
	if k > 0 {
		iv.Low = gammaQuantile(tail, k, false) / exposure
	}
	return iv
}

// RateRatioExact returns the exact interval for (k1/t1) / (k2/t2): given the total,
// k1 is binomial, and the Clopper-Pearson limits of its share are turned into limits
// of the ratio. k1 = 0 gives a low limit of 0, k2 = 0 a high limit of +Inf; no event
// in either is ErrNoData. It covers at least the level, and much more with few events:
// see RateRatioWarnings. Reference: Breslow & Day 1987, vol. II, section 3.4.
func RateRatioExact(k1 int64, t1 float64, k2 int64, t2 float64, level float64) (Interval, error) {
	if err := firstError(checkRate(k1, t1, level), checkRate(k2, t2, level), checkCount("total", k1+k2)); err != nil {
		return Interval{}, err
	}
	if k1+k2 == 0 {
		return Interval{}, fmt.Errorf("no event in either group: %w", ErrNoData)
	}
	n, tail := float64(k1+k2), (1-level)/2
	// The complement comes from the other share's limits: 1-p would lose digits near 1.
	share, other := clopperPearson(float64(k1), n, tail), clopperPearson(float64(k2), n, tail)
	iv := Interval{Low: 0, High: math.Inf(1)}
	if k1 > 0 { // else 0 times the ratio of two extreme exposures might be no number
		iv.Low = share.Low / other.High * (t2 / t1)
	}
	if other.Low > 0 {
		iv.High = share.High / other.Low * (t2 / t1)
	}
	return iv, nil
}

// ObservedExpectedExact returns the exact interval for observed/expected, the
// observed count being Poisson and the expected one known. It is PoissonExact with
// the expected count as exposure.
func ObservedExpectedExact(observed int64, expected, level float64) (Interval, error) {
	return PoissonExact(observed, expected, level)
}

// Byar returns Byar's approximation to ObservedExpectedExact, which a pocket
// calculator can redo; it serves as a cross-check only. With z the normal quantile
//
//	low  = O/E (1 - 1/(9O) - z/(3 sqrt O))^3
//	high = (O+1)/E (1 - 1/(9(O+1)) + z/(3 sqrt(O+1)))^3.
//
// Reference: Breslow & Day 1987, vol. II, section 2.3.
func Byar(observed int64, expected, level float64) (Interval, error) {
	if err := checkRate(observed, expected, level); err != nil {
		return Interval{}, err
	}
	z := intervalZ(level)
	cube := func(o, side float64) float64 {
		root := 1 - 1/(9*o) + side*z/(3*math.Sqrt(o))
		return o / expected * math.Pow(math.Max(0, root), 3)
	}
	iv := Interval{High: cube(float64(observed)+1, 1)}
	if observed > 0 {
		iv.Low = cube(float64(observed), -1)
	}
	return iv, nil
}

// Quantile7 returns the p-quantile of ascending values by linear interpolation
// between order statistics at position 1 + (n-1)p, the default of R and type 7 of
// Hyndman & Fan 1996, Am Stat 50:361. Values that are NaN or out of order are an
// error, and so is a place between -Inf and +Inf; no value is ErrNoData; p in [0,1].
func Quantile7(sorted []float64, p float64) (float64, error) {
	if len(sorted) == 0 {
		return 0, fmt.Errorf("quantile of nothing: %w", ErrNoData)
	}
	if err := checkProbability("p", p); err != nil {
		return 0, err
	}
	for i, v := range sorted {
		if math.IsNaN(v) || i > 0 && v < sorted[i-1] {
			return 0, fmt.Errorf("value %d (%v) is NaN or out of order: %w", i, v, ErrBadInput)
		}
	}
	q := quantile7(sorted, p)
	if math.IsNaN(q) {
		return 0, fmt.Errorf("quantile between -Inf and +Inf: %w", ErrBadInput)
	}
	return q, nil
}

// quantile7 is Quantile7 for arguments known to be good.
func quantile7(sorted []float64, p float64) float64 {
	at := p * float64(len(sorted)-1)
	i := int(at)
	if share := at - float64(i); share > 0 && sorted[i] != sorted[i+1] {
		return sorted[i]*(1-share) + sorted[i+1]*share
	}
	return sorted[i]
}
