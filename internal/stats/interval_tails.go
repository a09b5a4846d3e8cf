package stats

import "math"

// The incomplete gamma and beta functions are computed here rather than taken
// from gonum because its versions stop after a fixed, small number of terms and
// lose digits at counts beyond about 1e5. The leading factor uses the deviance
// form of Loader (2000), "Fast and accurate computation of binomial
// probabilities", which keeps full precision where the plain formula subtracts
// huge logarithms.

// maxTailParameter bounds the shape parameters for which the expansions below
// end in acceptable time (their length grows with the square root).
const maxTailParameter = 1e10

// tailTerms is beyond what any parameter up to maxTailParameter needs.
const tailTerms = 20_000_000

// stirlingError is log Gamma(x+1) minus Stirling's formula, for x > 0.
func stirlingError(x float64) float64 {
	if x <= 15 {
		lg, _ := math.Lgamma(x + 1)
		return lg - (x+0.5)*math.Log(x) + x - 0.5*math.Log(2*math.Pi)
	}
	xx := x * x
	return (1.0/12 - (1.0/360-(1.0/1260-(1.0/1680-(1.0/1188-691.0/360360/xx)/xx)/xx)/xx)/xx) / x
}

// poissonDeviance is x log(x/m) + m - x without cancellation near x = m.
func poissonDeviance(x, m float64) float64 {
	if math.Abs(x-m) >= 0.1*(x+m) {
		return x*math.Log(x/m) + m - x
	}
	v := (x - m) / (x + m)
	sum, term := (x-m)*v, 2*x*v
	for j := 3.0; ; j += 2 {
		term *= v * v
		next := sum + term/j
		if next == sum {
			return sum
		}
		sum = next
	}
}

// gammaTails returns the lower and upper regularised incomplete gamma functions
// P(a,x) and Q(a,x) for 0 < a <= maxTailParameter and x >= 0. The smaller of the
// two is accurate relatively. Series below the mean, Lentz's continued fraction
// above it.
func gammaTails(a, x float64) (lower, upper float64) {
	switch {
	case x <= 0:
		return 0, 1
	case math.IsInf(x, 1):
		return 1, 0
	}
	lead := math.Exp(-stirlingError(a)-poissonDeviance(a, x)) / math.Sqrt(2*math.Pi*a)
	if x < a+1 {
		sum, term := 1.0, 1.0
		for n := 1.0; n < tailTerms && term > sum*1e-17; n++ {
			term *= x / (a + n)
			sum += term
		}
		lower = math.Min(1, lead*sum)
		return lower, 1 - lower
	}
	upper = math.Min(1, lead*a*gammaFraction(a, x))
	return 1 - upper, upper
}

// gammaFraction is Legendre's continued fraction for Gamma(a,x) e^x x^-a.
func gammaFraction(a, x float64) float64 {
	const tiny = 1e-300
	b := x + 1 - a
	c, d := 1/tiny, 1/b
	h := d
	for i := 1.0; i < tailTerms; i++ {
		an := -i * (i - a)
		b += 2
		d = awayFromZero(an*d + b)
		c = awayFromZero(b + an/c)
		d = 1 / d
		h *= d * c
		if math.Abs(d*c-1) < 1e-16 {
			break
		}
	}
	return h
}

// awayFromZero keeps a denominator of Lentz's method from vanishing.
func awayFromZero(x float64) float64 {
	if math.Abs(x) < 1e-300 {
		return 1e-300
	}
	return x
}

// betaTails returns the regularised incomplete beta function I_x(a,b) and its
// complement for a, b > 0 with a+b <= maxTailParameter; y must be 1-x and is
// passed so that neither loses digits. The smaller of the two is accurate relatively.
func betaTails(x, y, a, b float64) (lower, upper float64) {
	switch {
	case x <= 0:
		return 0, 1
	case y <= 0:
		return 1, 0
	case x > (a+1)/(a+b+2):
		upper, lower = betaTails(y, x, b, a)
		return lower, upper
	}
	lower = math.Min(1, betaLead(x, y, a, b)*b/(a+b)*betaFraction(x, a, b))
	return lower, 1 - lower
}

// betaLead is Gamma(a+b+1)/(Gamma(a+1)Gamma(b+1)) x^a y^b.
func betaLead(x, y, a, b float64) float64 {
	n := a + b
	e := stirlingError(n) - stirlingError(a) - stirlingError(b) -
		poissonDeviance(a, n*x) - poissonDeviance(b, n*y)
	return math.Exp(e) * math.Sqrt(n/(2*math.Pi*a*b))
}

// betaFraction is the continued fraction of I_x(a,b) (Abramowitz & Stegun 26.5.8).
func betaFraction(x, a, b float64) float64 {
	c := 1.0
	d := 1 / awayFromZero(1-(a+b)*x/(a+1))
	h := d
	for m := 1.0; m < tailTerms; m++ {
		even := m * (b - m) * x / ((a + 2*m - 1) * (a + 2*m))
		d = 1 / awayFromZero(1+even*d)
		c = awayFromZero(1 + even/c)
		h *= d * c
		odd := -(a + m) * (a + b + m) * x / ((a + 2*m) * (a + 2*m + 1))
		d = 1 / awayFromZero(1+odd*d)
		c = awayFromZero(1 + odd/c)
		h *= d * c
		if math.Abs(d*c-1) < 1e-16 {
			break
		}
	}
	return h
}

// invertTail finds x in (0, high] with tail(x) = p, where tail is one of the two
// tails of a law and density its density. It takes Newton steps of log tail
// against log x, which is nearly straight in the far tails, and falls back on
// halving the bracket in log x.
func invertTail(tail, density func(float64) float64, p, start, high float64, upper bool) float64 {
	lo, hi := math.Log(1e-300), math.Log(high)
	v := math.Min(hi, math.Max(lo, math.Log(start)))
	for range 400 {
		x := math.Exp(v)
		t := tail(x)
		slope := x * density(x) / t
		if (t < p) != upper {
			lo = v
		} else {
			hi = v
		}
		if upper {
			slope = -slope
		}
		next := v - math.Log(t/p)/slope
		if !(next > lo && next < hi) {
			next = lo + (hi-lo)/2
		}
		if math.Abs(next-v) <= 2e-16*math.Max(1, math.Abs(v)) || t == p {
			return x
		}
		v = next
	}
	return math.Exp(v)
}
