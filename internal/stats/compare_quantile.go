package stats

// countLaw is a law of counts: its mean and both tails, P(X <= k) and P(X > k).
// Counts divided by a dispersion leave an effective size that is no whole number;
// the incomplete beta and gamma functions continue the tails there.
type countLaw struct {
	mean  float64
	tails func(k int64) (lower, upper float64)
}

func poissonLaw(mean float64) countLaw {
	return countLaw{mean, func(k int64) (float64, float64) { return poissonTails(k, mean) }}
}

func binomialLaw(n, p float64) countLaw {
	return countLaw{n * p, func(k int64) (float64, float64) { return sizedBinomialTails(k, n, p) }}
}

// exactQuantile is the smallest k with P(X <= k) >= p.
func exactQuantile(law countLaw, p float64) float64 {
	return float64(discreteQuantile(p, law.mean, law.tails))
}

// interpolatedQuantile is the interpolated quantile of a discrete law (Spiegelhalter
// 2005, appendix A.1): from the smallest count r that reaches p is taken the share
// of P(X = r) by which it overshoots p. Above the middle it works in upper tails,
// which keep their digits there.
func interpolatedQuantile(law countLaw, p float64) float64 {
	r := discreteQuantile(p, law.mean, law.tails)
	at, upper := law.tails(r)
	below, upperBelow := law.tails(r - 1)
	over, step := at-p, at-below
	if p > 0.5 {
		over, step = (1-p)-upper, upperBelow-upper
	}
	if step == 0 {
		return float64(r)
	}
	return float64(r) - over/step
}
