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
