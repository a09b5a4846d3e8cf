package stats

import (
	"fmt"
	"math"
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
	atoms := map[float64]float64{}
	for _, m := range mix {
		mean := truth * m.Level
		size := mean / (phi - 1)
		left := 1.0
		// Beyond the mean probabilities fall; the sum left ends at rounding.
		for k := 0.0; k <= mean || left > 1e-13 && k < 1e6; k++ {
			p := math.Exp(lgamma(k+size) - lgamma(size) - lgamma(k+1) - size*math.Log(phi) + k*math.Log1p(-1/phi))
			score, err := PoissonScore(k/phi, m.Level/phi, ratio)
			if err != nil {
				return ScoreLaw{}, err
			}
			atoms[score] += m.Share / total * p
			left -= p
		}
	}
	return newScoreLaw(atoms), nil
}
