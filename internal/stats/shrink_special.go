package stats

import (
	"math"

	"gonum.org/v1/gonum/mathext"
)

// Sums over the j = 0 ... n-1 events of a unit of log(a + j d) and its
// derivatives, continued to real n through the gamma function. That difference
// of two large numbers loses its digits when d is small, so short whole sums are
// taken term by term and small n d / a goes through power sums.
const (
	directTerms = 256
	powerSpan   = 1e-3 // the first power left out is then below 1e-12
	powerTerms  = 4
)

// logRising is the sum of log(a + j d).
func logRising(a, d, n float64) float64 {
	switch {
	case d == 0:
		return xlogy(n, a)
	case direct(n):
		var s float64
		for j := range int(n) {
			s += math.Log(a + float64(j)*d)
		}
		return s
	case max(n, 1)*d < powerSpan*a:
		s, x := n*math.Log(a), d/a
		for k, sum := range powerSums(n) {
			s += sum * alternate(k) * math.Pow(x, float64(k+1)) / float64(k+1)
		}
		return s
	}
	return n*math.Log(d) + lgamma(a/d+n) - lgamma(a/d)
}

// logRisingByA is its derivative by a, the sum of 1/(a + j d).
func logRisingByA(a, d, n float64) float64 {
	switch {
	case d == 0:
		return n / a
	case direct(n):
		var s float64
		for j := range int(n) {
			s += 1 / (a + float64(j)*d)
		}
		return s
	case max(n, 1)*d < powerSpan*a:
		s, x := n, d/a
		for k, sum := range powerSums(n) {
			s -= sum * alternate(k) * math.Pow(x, float64(k+1))
		}
		return s / a
	}
	return (mathext.Digamma(a/d+n) - mathext.Digamma(a/d)) / d
}

// rising holds what the sums of all units at one a and d share.
type rising struct {
	a, d              float64
	digamma, trigamma float64 // at a/d
}

func newRising(a, d float64) rising {
	return rising{a, d, mathext.Digamma(a / d), trigamma(a / d)}
}

// byA is logRisingByA, and its derivative by a, minus the sum of 1/(a + j d)^2. d is above 0.
func (r rising) byA(n float64) (value, slope float64) {
	a, d := r.a, r.d
	switch {
	case direct(n):
		for j := range int(n) {
			x := 1 / (a + float64(j)*d)
			value, slope = value+x, slope-x*x
		}
		return value, slope
	case max(n, 1)*d < powerSpan*a:
		value, slope = n, n
		x, power := d/a, 1.0
		for k, sum := range powerSums(n) {
			power *= -x
			value, slope = value+sum*power, slope+float64(k+2)*sum*power
		}
		return value / a, -slope / (a * a)
	}
	return (mathext.Digamma(a/d+n) - r.digamma) / d, (trigamma(a/d+n) - r.trigamma) / (d * d)
}

// trigamma is the second derivative of the logarithm of the gamma function above 0, to
// about 1e-11 relative: its asymptotic series from 8 on (Abramowitz & Stegun 1964, 6.4.12),
// which its recurrence leads up to.
func trigamma(x float64) float64 {
	sum := 0.0
	for ; x < 8; x++ {
		sum += 1 / (x * x)
	}
	q := 1 / (x * x)
	return sum + 1/x + q/2 + q/x*(1.0/6-q*(1.0/30-q*(1.0/42-q*(1.0/30-q*5.0/66))))
}

// logRisingByD is its derivative by d, the sum of j/(a + j d).
func logRisingByD(a, d, n float64) float64 {
	switch {
	case d == 0:
		return n * (n - 1) / (2 * a)
	case direct(n):
		var s float64
		for j := range int(n) {
			s += float64(j) / (a + float64(j)*d)
		}
		return s
	case max(n, 1)*d < powerSpan*a:
		var s float64
		for k, sum := range powerSums(n) {
			s += sum * alternate(k) * math.Pow(d/a, float64(k))
		}
		return s / a
	}
	return (n - a*logRisingByA(a, d, n)) / d
}

func direct(n float64) bool { return n == math.Trunc(n) && n <= directTerms }

// powerSums are the sums of j, j^2, j^3 and j^4 over j < n as polynomials in n.
func powerSums(n float64) [powerTerms]float64 {
	s1 := n * (n - 1) / 2
	s2 := s1 * (2*n - 1) / 3
	return [powerTerms]float64{s1, s2, s1 * s1, s2 * (3*n*n - 3*n - 1) / 5}
}

func alternate(k int) float64 { return float64(1 - 2*(k%2)) }

// xlogy is x log(y) with 0 log(0) = 0.
func xlogy(x, y float64) float64 {
	if x == 0 {
		return 0
	}
	return x * math.Log(y)
}

func lgamma(x float64) float64 {
	v, _ := math.Lgamma(x)
	return v
}
