package stats

import (
	"fmt"
	"math"
)

// checkCount refuses counts outside 0..1e10.
func checkCount(name string, k int64) error {
	if k < 0 || k > maxTailParameter {
		return fmt.Errorf("%s %d is not between 0 and %g: %w", name, k, maxTailParameter, ErrBadInput)
	}
	return nil
}

// PoissonCDF returns P(X <= k) and P(X > k) for a Poisson law with mean in [0, 1e10].
func PoissonCDF(k int64, mean float64) (lower, upper float64, err error) {
	if err := firstError(checkMean(mean), checkCountArgument(k)); err != nil {
		return 0, 0, err
	}
	lower, upper = poissonTails(k, mean)
	return lower, upper, nil
}

func checkMean(mean float64) error {
	if !(mean >= 0 && mean <= maxTailParameter) {
		return fmt.Errorf("mean %v is not between 0 and %g: %w", mean, maxTailParameter, ErrBadInput)
	}
	return nil
}

// checkCountArgument allows any k at which a CDF is asked, below zero included.
func checkCountArgument(k int64) error {
	return checkCount("count", max(k, 0))
}

func poissonTails(k int64, mean float64) (lower, upper float64) {
	if k < 0 {
		return 0, 1
	}
	upper, lower = gammaTails(float64(k)+1, mean)
	return lower, upper
}

// PoissonQuantile returns the smallest k with P(X <= k) >= p; p in [0,1), mean in [0, 1e9].
func PoissonQuantile(p, mean float64) (int64, error) {
	if err := firstError(checkQuantile(p), checkMean(10*mean)); err != nil {
		return 0, err
	}
	return discreteQuantile(p, mean, func(k int64) (float64, float64) { return poissonTails(k, mean) }), nil
}

func checkQuantile(p float64) error {
	if !(p >= 0 && p < 1) {
		return fmt.Errorf("p %v is not in [0,1): %w", p, ErrBadInput)
	}
	return nil
}

// BinomialCDF returns P(X <= k) and P(X > k) for n trials with chance prob.
func BinomialCDF(k, n int64, prob float64) (lower, upper float64, err error) {
	if err := firstError(checkCount("n", n), checkProbability("probability", prob)); err != nil {
		return 0, 0, err
	}
	lower, upper = binomialTails(k, n, prob)
	return lower, upper, nil
}

func binomialTails(k, n int64, prob float64) (lower, upper float64) {
	return sizedBinomialTails(k, float64(n), prob)
}

// sizedBinomialTails continues the binomial tails to a size that is not whole.
func sizedBinomialTails(k int64, n, prob float64) (lower, upper float64) {
	switch {
	case k < 0:
		return 0, 1
	case float64(k) >= n:
		return 1, 0
	}
	upper, lower = betaTails(prob, 1-prob, float64(k)+1, n-float64(k))
	return lower, upper
}

// BinomialQuantile returns the smallest k with P(X <= k) >= p; p in [0,1).
func BinomialQuantile(p float64, n int64, prob float64) (int64, error) {
	if err := firstError(checkQuantile(p), checkCount("n", n), checkProbability("probability", prob)); err != nil {
		return 0, err
	}
	tails := func(k int64) (float64, float64) { return binomialTails(k, n, prob) }
	return min(n, discreteQuantile(p, float64(n)*prob, tails)), nil
}

// NegBinomialCDF returns P(X <= k) and P(X > k) for a negative binomial law with
// the given mean and size (variance = mean + mean^2/size; an infinite size is the
// Poisson law).
func NegBinomialCDF(k int64, mean, size float64) (lower, upper float64, err error) {
	if err := firstError(checkMean(mean), checkSize(size), checkCountArgument(k)); err != nil {
		return 0, 0, err
	}
	lower, upper = negBinomialTails(k, mean, size)
	return lower, upper, nil
}

func checkSize(size float64) error {
	if math.IsInf(size, 1) {
		return nil
	}
	return checkPositive("size", size)
}

func negBinomialTails(k int64, mean, size float64) (lower, upper float64) {
	switch {
	case k < 0:
		return 0, 1
	case math.IsInf(size, 1):
		return poissonTails(k, mean)
	}
	return betaTails(size/(size+mean), mean/(size+mean), size, float64(k)+1)
}

// NegBinomialQuantile returns the smallest k with P(X <= k) >= p; p in [0,1). A
// quantile beyond 1e10 is an error.
func NegBinomialQuantile(p, mean, size float64) (int64, error) {
	if err := firstError(checkQuantile(p), checkMean(10*mean), checkSize(size)); err != nil {
		return 0, err
	}
	tails := func(k int64) (float64, float64) { return negBinomialTails(k, mean, size) }
	k := discreteQuantile(p, mean, tails)
	if k > maxTailParameter {
		return 0, fmt.Errorf("quantile %v is beyond %g: %w", p, maxTailParameter, ErrBadInput)
	}
	return k, nil
}

// discreteQuantile brackets by doubling from the mean and then halves. Above the
// middle it compares upper tails, which keep their digits there.
func discreteQuantile(p, mean float64, tails func(int64) (float64, float64)) int64 {
	reached := func(k int64) bool {
		lower, upper := tails(k)
		if p > 0.5 {
			return upper <= 1-p
		}
		return lower >= p
	}
	high := int64(mean) + 1
	for !reached(high) && high <= maxTailParameter {
		high *= 2
	}
	low := int64(-1)
	for high-low > 1 {
		if mid := low + (high-low)/2; reached(mid) {
			high = mid
		} else {
			low = mid
		}
	}
	return high
}
