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
	for _, m := range mix {
		mean := truth * m.Level
		prob := scatteredProb(mean, phi)
		// Counts fall off on either side of the mean. Those that would not come once in
		// 1e20 steps are left out, so that a law grows with the root of its level.
		mode := math.Floor(mean)
		low, high := mode, mode+1
		for low > 0 && prob(low-1) > rareCount {
			low--
		}
		for high < 1e6 && (high <= mean+phi || prob(high) > rareCount) {
			high++
		}
		for k := low; k < high; k++ {
			score, err := PoissonScore(k/phi, m.Level/phi, ratio)
			if err != nil {
				return ScoreLaw{}, err
			}
			atoms = append(atoms, scoreAtom{score, m.Share / total * prob(k)})
		}
	}
	return gatherScores(atoms), nil
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
