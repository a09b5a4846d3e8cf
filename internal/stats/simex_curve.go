package stats

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// quadraticTerms are the terms of a parabola.
func quadraticTerms(v float64) []float64 { return []float64{1, v, v * v} }

// rationalTerms are the terms of a + b/(c + v) for a given c.
func rationalTerms(c float64) func(float64) []float64 {
	return func(v float64) []float64 { return []float64{1, 1 / (c + v)} }
}

// leastSquaresAt fits y on terms of x and reads the fitted curve at a point. The terms
// must not be collinear.
func leastSquaresAt(terms func(float64) []float64, x, y []float64, at float64) float64 {
	beta, _ := leastSquares(terms, x, y)
	return dot(beta, terms(at))
}

// leastSquares returns the coefficients and the residual sum of squares.
func leastSquares(terms func(float64) []float64, x, y []float64) (beta []float64, residual float64) {
	p := len(terms(x[0]))
	design := mat.NewDense(len(x), p, nil)
	for i, v := range x {
		design.SetRow(i, terms(v))
	}
	var qr mat.QR
	qr.Factorize(design)
	solved := mat.NewVecDense(p, nil)
	// A condition error still fills the solution; the residual then speaks for itself.
	_ = qr.SolveVecTo(solved, false, mat.NewVecDense(len(y), y))
	for i, v := range x {
		gap := y[i] - dot(solved.RawVector().Data, terms(v))
		residual += gap * gap
	}
	return solved.RawVector().Data, residual
}

// rationalPole returns the c > 1 with which a + b/(c + x) fits best. It is not ok when
// the best lies at an end of the search (1.001 to 1001), where the curve would be a
// straight line or have its pole at the point to be read.
func rationalPole(x, y []float64) (c float64, ok bool) {
	lost := func(u float64) float64 {
		_, residual := leastSquares(rationalTerms(1+math.Exp(u)), x, y)
		return residual
	}
	low, high := math.Log(0.001), math.Log(1000)
	const steps = 60
	best, least := low, math.Inf(1)
	for k := range steps + 1 {
		u := low + (high-low)*float64(k)/steps
		if r := lost(u); r < least {
			best, least = u, r
		}
	}
	width := (high - low) / steps
	if best <= low+width/2 || best >= high-width/2 {
		return 0, false
	}
	return 1 + math.Exp(goldenSection(lost, best-width, best+width)), true
}

// goldenSection returns where f, with one minimum between the ends, is least.
func goldenSection(f func(float64) float64, low, high float64) float64 {
	const ratio = 0.6180339887498949
	a, b := high-ratio*(high-low), low+ratio*(high-low)
	fa, fb := f(a), f(b)
	for high-low > 1e-10 {
		if fa < fb {
			high, b, fb = b, a, fa
			a = high - ratio*(high-low)
			fa = f(a)
		} else {
			low, a, fa = a, b, fb
			b = low + ratio*(high-low)
			fb = f(b)
		}
	}
	return (low + high) / 2
}
