package stats

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"
)

// summarise fills everything that follows from the replicates.
func (b *BootstrapResult) summarise(jackknife []float64, level float64) {
	ordered := slices.Clone(b.Values)
	slices.Sort(ordered)
	mean, squares := meanAndSquares(b.Values)
	b.Bias = mean - b.Estimate
	b.SE = math.Sqrt(squares / float64(len(b.Values)-1))
	b.Percentile = percentileLimits(ordered, level)
	low, high, ok := bcaTails(ordered, b.Estimate, jackknife, level)
	if !ok {
		b.BCa = b.Percentile
		b.Warnings = append(b.Warnings, Warning{"no-bca", "The bias-corrected limits do not exist here: the percentile limits stand in for them."})
		return
	}
	b.BCa = Interval{replicateQuantile(ordered, low), replicateQuantile(ordered, high)}
}

// percentileLimits are the replicates' own central quantiles, in any order.
func percentileLimits(values []float64, level float64) Interval {
	ordered, tail := slices.Clone(values), (1-level)/2
	slices.Sort(ordered)
	return Interval{replicateQuantile(ordered, tail), replicateQuantile(ordered, 1-tail)}
}

// bcaTails returns the levels at which BCa reads the replicates:
//
//	Phi(z0 + (z0 + z)/(1 - a (z0 + z)))
//
// with z0 from the share of replicates below the estimate and the acceleration a from
// the skewness of the jackknife. It is not ok where all replicates lie on one side, or
// none differ, or the jackknife failed.
func bcaTails(ordered []float64, estimate float64, jackknife []float64, level float64) (low, high float64, ok bool) {
	below, _ := slices.BinarySearch(ordered, estimate)
	if jackknife == nil || below == 0 || below == len(ordered) {
		return 0, 0, false
	}
	z0 := distuv.UnitNormal.Quantile(float64(below) / float64(len(ordered)))
	a := acceleration(jackknife)
	at := func(z float64) float64 {
		z += z0
		if 1-a*z <= 0 {
			return math.NaN()
		}
		p, _ := NormalTails(z0 + z/(1-a*z))
		return p
	}
	z := intervalZ(level)
	low, high = at(-z), at(z)
	return low, high, low < high
}

// acceleration is a sixth of the skewness of the jackknife influences, 0 for a
// statistic that no unit moves.
func acceleration(jackknife []float64) float64 {
	mean, squares := meanAndSquares(jackknife)
	cubes := 0.0
	for _, v := range jackknife {
		d := mean - v
		cubes += d * d * d
	}
	if squares == 0 {
		return 0
	}
	return cubes / (6 * math.Pow(squares, 1.5))
}

// meanAndSquares returns the mean and the sum of squares about it.
func meanAndSquares(x []float64) (mean, squares float64) {
	for i, v := range x {
		step := v - mean
		mean += step / float64(i+1)
		squares += step * (v - mean)
	}
	return mean, squares
}

// replicateQuantile reads ascending replicates at position (R+1)p, between two of them
// on the scale of normal quantiles, and the end one beyond the ends. Reference: Davison
// & Hinkley 1997, Bootstrap Methods and their Application, equation 5.8.
func replicateQuantile(ordered []float64, p float64) float64 {
	r := float64(len(ordered))
	at := (r + 1) * p
	k := math.Floor(at)
	switch {
	case k < 1:
		return ordered[0]
	case k >= r:
		return ordered[len(ordered)-1]
	case k == at:
		return ordered[int(k)-1]
	}
	q := distuv.UnitNormal.Quantile
	left, right := q(k/(r+1)), q((k+1)/(r+1))
	share := (q(p) - left) / (right - left)
	below, above := ordered[int(k)-1], ordered[int(k)]
	return below + share*(above-below)
}
