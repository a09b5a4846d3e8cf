package stats

import (
	"math"

	"gonum.org/v1/gonum/mathext"
)

// updateAlpha maximises the likelihood over alpha = 1/theta at the present means
// and reports whether alpha moved by more than 1e-10 of itself.
func (f *Fit) updateAlpha() bool {
	old, from := f.alpha, f.alpha
	if from == 0 {
		if from = f.momentAlpha(); from == 0 {
			return false
		}
	}
	// log theta keeps the iteration inside the domain.
	t := math.Max(-math.Log(from), -math.Log(maxTheta))
	for range 50 {
		score, info := f.thetaScore(math.Exp(t))
		theta := math.Exp(t)
		g, h := score*theta, info*theta*theta-score*theta
		step := math.Copysign(1, g)
		if h > 0 {
			step = math.Max(-1, math.Min(1, g/h))
		}
		t += step
		if math.Abs(step) < 1e-12 || math.Abs(t) > math.Log(maxTheta) {
			break
		}
	}
	if f.alpha, f.Theta = math.Exp(-t), math.Exp(t); f.Theta > maxTheta {
		f.alpha, f.Theta = 0, math.Inf(1)
	}
	return math.Abs(f.alpha-old) > 1e-10*math.Max(f.alpha, old)
}

// maxTheta is the size beyond which the law is Poisson for every purpose here. A size
// below 1/maxTheta would be a law that is 0 but for once in a hundred million times:
// what asks for it is no sample of counts.
const maxTheta = 1e8

// momentAlpha starts the dispersion at its moment estimate; 0 where the
// likelihood does not rise from the Poisson model, whose score in alpha is
// sum w ((y-mu)^2 - y) / 2, and where there is no event to tell anything.
func (f *Fit) momentAlpha() float64 {
	var events, excess, squares float64
	for i, w := range f.data.Weight {
		if w > 0 {
			mu, y := f.terms[i].mu, f.data.Y[i]
			events += w * y
			excess += w * ((y-mu)*(y-mu) - y)
			squares += w * mu * mu
		}
	}
	if !(excess > 0) || events == 0 {
		return 0
	}
	return excess / squares
}

// thetaScore is the derivative of the log-likelihood by theta and minus its second
// derivative, at fixed means.
func (f *Fit) thetaScore(theta float64) (score, info float64) {
	first, second := polygammaTable(f.data.Y, theta)
	for i, w := range f.data.Weight {
		if w == 0 {
			continue
		}
		y, mu := f.data.Y[i], f.terms[i].mu
		d1, d2 := polygammaGain(y, theta, first, second)
		// log(theta/(theta+mu)) + 1 - (y+theta)/(theta+mu), without cancellation.
		score += w * (d1 - math.Log1p(mu/theta) + (mu-y)/(theta+mu))
		info += w * (d2 - 1/theta + 2/(theta+mu) - (y+theta)/((theta+mu)*(theta+mu)))
	}
	return score, info
}

// polygammaTable holds, for y up to directSum, psi(theta+y)-psi(theta) and
// psi'(theta)-psi'(theta+y) as running sums.
func polygammaTable(y []float64, theta float64) (first, second []float64) {
	top := 0.0
	for _, v := range y {
		if v <= directSum {
			top = math.Max(top, v)
		}
	}
	first, second = make([]float64, int(top)+1), make([]float64, int(top)+1)
	for k := 1; k < len(first); k++ {
		r := 1 / (theta + float64(k-1))
		first[k], second[k] = first[k-1]+r, second[k-1]+r*r
	}
	return first, second
}

func polygammaGain(y, theta float64, first, second []float64) (float64, float64) {
	if y <= directSum {
		return first[int(y)], second[int(y)]
	}
	return mathext.Digamma(theta+y) - mathext.Digamma(theta), mathext.Zeta(2, theta) - mathext.Zeta(2, theta+y)
}
