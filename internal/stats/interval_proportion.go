package stats

import (
	"fmt"
	"math"
)

// checkTrials refuses a count that is no part of n, and n = 0.
func checkTrials(k, n int64, level float64) error {
	switch {
	case n < 0 || k < 0 || k > n:
		return fmt.Errorf("%d of %d: %w", k, n, ErrBadInput)
	case n == 0:
		return fmt.Errorf("proportion of 0: %w", ErrNoData)
	}
	return checkLevel(level)
}

// Wilson returns the score interval for the proportion k of n at a two-sided level
// such as 0.95. With z the normal quantile and p = k/n
//
//	(2np + z^2 -+ z sqrt(z^2 + 4np(1-p))) / (2(n + z^2)).
//
// k = 0 gives a low limit of exactly 0 and k = n a high limit of exactly 1. n = 0 is
// ErrNoData. Its coverage averages the level but swings with n and p: see WilsonWarnings.
// Reference: Wilson 1927, J Am Stat Assoc 22:209; method 3 of Newcombe 1998, Stat Med 17:857.
func Wilson(k, n int64, level float64) (Interval, error) {
	if err := checkTrials(k, n, level); err != nil {
		return Interval{}, err
	}
	return wilson(float64(k), float64(n), intervalZ(level)), nil
}

func wilson(k, n, z float64) Interval {
	if k == n {
		return Interval{Low: n / (n + z*z), High: 1}
	}
	half := z * math.Sqrt(z*z+4*k*(n-k)/n)
	return Interval{
		// The product of the two roots is known, so neither is found by a subtraction.
		Low:  2 * k * k / n / (2*k + z*z + half),
		High: math.Min(1, (2*k+z*z+half)/(2*(n+z*z))),
	}
}

// ClopperPearson returns the exact interval for k of n: the limits at which each
// tail has half of 1-level. It covers at least the level, usually more: see
// ClopperPearsonWarnings. n = 0 is ErrNoData; n is at most 1e10. Reference: Clopper & Pearson 1934, Biometrika 26:404.
func ClopperPearson(k, n int64, level float64) (Interval, error) {
	if err := firstError(checkTrials(k, n, level), checkCount("n", n)); err != nil {
		return Interval{}, err
	}
	return clopperPearson(float64(k), float64(n), (1-level)/2), nil
}

func clopperPearson(k, n, tail float64) Interval {
	iv := Interval{Low: 0, High: 1}
	if k > 0 {
		iv.Low = betaQuantile(tail, k, n-k+1, false)
	}
	if k < n {
		iv.High = betaQuantile(tail, k+1, n-k, true)
	}
	return iv
}

// Newcombe returns the interval for the difference k1/n1 - k2/n2 of two independent
// proportions, which squares and adds the distances of the Wilson limits from their
// estimates. A nominal 95 % covers 95 to 96.5 % where 3 or more events are expected in
// each group, and more below: see NewcombeWarnings. Reference: method 10 of Newcombe
// 1998, Stat Med 17:873.
func Newcombe(k1, n1, k2, n2 int64, level float64) (Interval, error) {
	if err := firstError(checkTrials(k1, n1, level), checkTrials(k2, n2, level)); err != nil {
		return Interval{}, err
	}
	z := intervalZ(level)
	p1, p2 := float64(k1)/float64(n1), float64(k2)/float64(n2)
	w1, w2 := wilson(float64(k1), float64(n1), z), wilson(float64(k2), float64(n2), z)
	return Interval{
		Low:  p1 - p2 - math.Hypot(p1-w1.Low, w2.High-p2),
		High: p1 - p2 + math.Hypot(w1.High-p1, p2-w2.Low),
	}, nil
}
