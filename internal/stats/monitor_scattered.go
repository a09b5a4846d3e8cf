package stats

import (
	"cmp"
	"fmt"
	"math"
	"slices"
)

// ScatteredScoreLaw is PoissonScoreLaw for counts that vary by more than a Poisson law
// allows: with variance phi times the mean, phi in [1,1000], as a negative binomial
// law has whose size is mean/(phi-1). Levels are expected counts, in (0, 1e4]. Scores
// are those of count and level divided by phi,
//
//	(count log(ratio) - level (ratio-1)) / phi,
//
// the quasi-likelihood ratio of McCullagh & Nelder 1989, chapter 9. A Poisson law for
// the divided counts has the same mean and variance but a shorter upper tail: its
// limits would signal too often. phi 1 is the Poisson law itself.
func ScatteredScoreLaw(mix []CaseMix, ratio, truth, phi float64) (ScoreLaw, error) {
	if !(phi >= 1 && phi <= 1000) {
		return ScoreLaw{}, fmt.Errorf("dispersion %g is not in [1,1000]: %w", phi, ErrBadInput)
	}
	if phi-1 < 1e-9 {
		return PoissonScoreLaw(mix, ratio, truth)
	}
	total, err := checkMix(mix, ratio, truth, maxMixMean)
	if err != nil {
		return ScoreLaw{}, err
	}
	var atoms []scoreAtom
	byCount := math.Log(ratio)
	for _, m := range mix {
		low, probs := scatteredCounts(truth*m.Level, phi)
		less := m.Level / phi * (ratio - 1)
		for i, p := range probs {
			atoms = append(atoms, scoreAtom{(low+float64(i))/phi*byCount - less, m.Share / total * p})
		}
	}
	return gatherScores(atoms), nil
}

// scatteredCounts gives the chances of the counts from low on, with that mean and
// dispersion above 1. They fall off on either side of the mean. Counts that would not come
// once in 1e20 steps are left out, so that a law grows with the root of its level.
func scatteredCounts(mean, phi float64) (low float64, probs []float64) {
	prob, mode := scatteredProb(mean, phi), math.Floor(mean)
	for low = mode; low > 0; low-- {
		p := prob(low - 1)
		if p <= rareCount {
			break
		}
		probs = append(probs, p)
	}
	slices.Reverse(probs)
	probs = append(probs, prob(mode))
	for high := mode + 1; high < 1e6; high++ {
		p := prob(high)
		if high > mean+phi && p <= rareCount {
			break
		}
		probs = append(probs, p)
	}
	return low, probs
}

const rareCount = 1e-20

// scatteredProb gives the chance of each count with that mean and dispersion above 1.
func scatteredProb(mean, phi float64) func(k float64) float64 {
	size := mean / (phi - 1)
	atZero := -lgamma(size) - size*math.Log(phi)
	log := math.Log1p(-1 / phi)
	return func(k float64) float64 { return math.Exp(lgamma(k+size) - lgamma(k+1) + atZero + k*log) }
}

// scoreAtom is one value of a score with its chance.
type scoreAtom struct{ score, prob float64 }

// gatherScores sorts atoms and adds up those of one score, in the order given.
func gatherScores(atoms []scoreAtom) ScoreLaw {
	slices.SortStableFunc(atoms, func(a, b scoreAtom) int { return cmp.Compare(a.score, b.score) })
	var law ScoreLaw
	for _, a := range atoms {
		if last := len(law.score) - 1; last >= 0 && law.score[last] == a.score {
			law.prob[last] += a.prob
		} else if a.prob > 0 {
			law.score, law.prob = append(law.score, a.score), append(law.prob, a.prob)
		}
	}
	return law
}
