package stats

import "math"

// The laws below take real-valued sizes: counts divided by a dispersion leave an
// effective size that is no whole number, and the incomplete beta and gamma
// functions continue the distribution functions there.

// cmpPoissonCDF is P(X <= k) for X ~ Poisson(mean).
func cmpPoissonCDF(mean float64) func(k float64) float64 {
	return func(k float64) float64 {
		switch {
		case k < 0:
			return 0
		case mean == 0:
			return 1
		}
		_, upper := gammaTails(k+1, mean)
		return upper
	}
}

// cmpBinomialCDF is P(X <= k) for X ~ binomial(n, p) with real n.
func cmpBinomialCDF(n, p float64) func(k float64) float64 {
	return func(k float64) float64 {
		switch {
		case k < 0:
			return 0
		case k >= n || p == 0:
			return 1
		case p == 1:
			return 0
		}
		_, upper := betaTails(p, 1-p, k+1, n-k)
		return upper
	}
}

// cmpQuantile finds the smallest whole k with cdf(k) > p: doubling, then halving,
// so that its cost grows with the logarithm of the answer.
func cmpQuantile(cdf func(float64) float64, p float64) float64 {
	lo, hi := -1.0, 0.0 // cdf(lo) <= p always
	for step := 1.0; !(cdf(hi) > p); step *= 2 {
		if step > 1e18 {
			return math.Inf(1)
		}
		lo, hi = hi, hi+step
	}
	for hi-lo > 1 {
		mid := math.Floor((lo + hi) / 2)
		if cdf(mid) > p {
			hi = mid
		} else {
			lo = mid
		}
	}
	return hi
}

// cmpInterpolated is the interpolated quantile of a discrete law (Spiegelhalter
// 2005, appendix A.1): r is the smallest count with cdf(r) > p, and from it is
// taken the share of P(X = r) by which cdf(r) overshoots p.
func cmpInterpolated(cdf func(float64) float64, p float64) float64 {
	r := cmpQuantile(cdf, p)
	if math.IsInf(r, 0) {
		return r
	}
	at, below := cdf(r), cdf(r-1)
	if at == below {
		return r
	}
	return r - (at-p)/(at-below)
}
