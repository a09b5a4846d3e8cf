package stats

import "math"

// Family is the law of the outcome and its link.
type Family int

// The families that FitGLM knows.
const (
	Poisson          Family = iota // log link; any y >= 0
	NegativeBinomial               // NB2, variance mu + mu^2/theta, log link; whole y >= 0
	Logistic                       // logit link; y is 0 or 1
)

// terms holds what one pattern adds at linear predictor eta: the mean, its
// derivative, the score in eta, observed and expected information in eta, and
// that part of the log-likelihood that depends on eta.
type terms struct {
	mu, dmu, score, observed, expected, loglik float64
}

// at evaluates a family; alpha is 1/theta and only the negative binomial reads it.
func (f Family) at(y, eta, alpha float64) terms {
	if f == Logistic {
		mu := 1 / (1 + math.Exp(-eta))
		v := mu * (1 / (1 + math.Exp(eta)))
		return terms{mu, v, y - mu, v, v, y*eta - softplus(eta)}
	}
	mu := math.Exp(eta)
	if f == Poisson || alpha == 0 {
		return terms{mu, mu, y - mu, mu, mu, y*eta - mu}
	}
	d := 1 + alpha*mu
	return terms{
		mu: mu, dmu: mu, score: (y - mu) / d,
		observed: mu * (1 + alpha*y) / (d * d), expected: mu / d,
		loglik: y*eta - (y+1/alpha)*math.Log1p(alpha*mu),
	}
}

// softplus is log(1+exp(x)) without overflow.
func softplus(x float64) float64 {
	return math.Max(x, 0) + math.Log1p(math.Exp(-math.Abs(x)))
}

// constant is the part of the log-likelihood that does not depend on eta.
func (f Family) constant(y, alpha float64) float64 {
	if f == Logistic {
		return 0
	}
	g, _ := math.Lgamma(y + 1)
	return sumLog1p(y, alpha) - g
}

// directSum is the largest count for which sums over 0..y-1 are taken term by term.
const directSum = 2000

// sumLog1p is the sum of log(1+k alpha) over k = 0..y-1.
func sumLog1p(y, alpha float64) float64 {
	if alpha == 0 {
		return 0
	}
	if y > directSum {
		a, _ := math.Lgamma(y + 1/alpha)
		b, _ := math.Lgamma(1 / alpha)
		return a - b + y*math.Log(alpha)
	}
	s := 0.0
	for k := 1.0; k < y; k++ {
		s += math.Log1p(k * alpha)
	}
	return s
}
