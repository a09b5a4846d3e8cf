package stats

import (
	"fmt"
	"math"
	"slices"
)

// BernoulliScores gives what one case adds to a risk-adjusted CUSUM that looks for
// the odds of an event being ratio times those its risk implies: the log likelihood
// ratio
//
//	log(ratio / (1-risk+ratio risk)) with the event, log(1 / (1-risk+ratio risk)) without.
//
// risk is in [0,1], ratio positive and not 1; below 1 the chart looks for improvement.
// Source: Steiner et al. 2000, Biostatistics 1:441.
func BernoulliScores(risk, ratio float64) (event, none float64, err error) {
	if err := firstError(checkProbability("risk", risk), checkRatio(ratio)); err != nil {
		return 0, 0, err
	}
	none = -math.Log1p(risk * (ratio - 1))
	return none + math.Log(ratio), none, nil
}

// PoissonScore gives what a step with that many events, and that many expected,
// adds to a risk-adjusted CUSUM looking for a rate ratio:
// observed log(ratio) - expected (ratio-1).
// Source: Lucas 1985, Technometrics 27:129, in its log likelihood form.
func PoissonScore(observed, expected, ratio float64) (float64, error) {
	if !finiteCount(observed) || !finiteCount(expected) {
		return 0, fmt.Errorf("observed %g, expected %g: %w", observed, expected, ErrBadInput)
	}
	if err := checkRatio(ratio); err != nil {
		return 0, err
	}
	return observed*math.Log(ratio) - expected*(ratio-1), nil
}

func checkRatio(ratio float64) error {
	if !(ratio > 0) || ratio == 1 || math.IsInf(ratio, 0) {
		return fmt.Errorf("ratio %g is not positive and apart from 1: %w", ratio, ErrBadInput)
	}
	return nil
}

// CusumPath is a CUSUM's value after each step. Signals are the indices of the
// steps that reached the limit; after each the sum starts again from 0.
type CusumPath struct {
	Values  []float64
	Signals []int
}

// Cusum adds scores up, never letting the sum fall below 0, and signals when it
// reaches limit, a positive number such as CusumLimit gives. NaN and infinite
// scores are ErrBadInput. A sum short of the limit by rounding alone counts as
// having reached it.
func Cusum(scores []float64, limit float64) (CusumPath, error) {
	if !(limit > 0) || math.IsInf(limit, 0) {
		return CusumPath{}, fmt.Errorf("limit %g: %w", limit, ErrBadInput)
	}
	path := CusumPath{Values: make([]float64, len(scores)), Signals: []int{}}
	sum := 0.0
	for i, s := range scores {
		if !finite(s) {
			return CusumPath{}, fmt.Errorf("score %d is %g: %w", i, s, ErrBadInput)
		}
		sum = max(0, sum+s)
		path.Values[i] = sum
		if sum >= limit*(1-cusumRounding) {
			path.Signals = append(path.Signals, i)
			sum = 0
		}
	}
	return path, nil
}

// cusumRounding is far above the rounding of a sum and far below any score.
const cusumRounding = 1e-10

// CaseMix is a share of the steps that a monitor will see. Level is their risk for
// a Bernoulli CUSUM and their expected count for a Poisson one. Shares need not sum
// to 1; they are weights.
type CaseMix struct {
	Level, Share float64
}

// ScoreLaw is the law of one step's score, as weighted values. BernoulliScoreLaw
// and PoissonScoreLaw make one.
type ScoreLaw struct {
	score, prob []float64
}

// BernoulliScoreLaw is the law of the scores for the ratio looked for when the true
// odds are truth times those of the risks (1 in control). Risks are inside (0,1).
func BernoulliScoreLaw(mix []CaseMix, ratio, truth float64) (ScoreLaw, error) {
	total, err := checkMix(mix, ratio, truth, 1)
	if err != nil {
		return ScoreLaw{}, err
	}
	atoms := map[float64]float64{}
	for _, m := range mix {
		event, none, err := BernoulliScores(m.Level, ratio)
		if err != nil {
			return ScoreLaw{}, err
		}
		p := truth * m.Level / (1 - m.Level + truth*m.Level)
		atoms[event] += m.Share / total * p
		atoms[none] += m.Share / total * (1 - p)
	}
	return newScoreLaw(atoms), nil
}

// PoissonScoreLaw is likewise for counts with mean truth times the expected one,
// both in (0, 1e4]. Counts with less than 1e-14 beyond them are left out.
func PoissonScoreLaw(mix []CaseMix, ratio, truth float64) (ScoreLaw, error) {
	total, err := checkMix(mix, ratio, truth, maxMixMean)
	if err != nil {
		return ScoreLaw{}, err
	}
	atoms := map[float64]float64{}
	for _, m := range mix {
		mean := truth * m.Level
		if mean > maxMixMean {
			return ScoreLaw{}, fmt.Errorf("true mean %g is above %g: %w", mean, float64(maxMixMean), ErrBadInput)
		}
		last := int(exactQuantile(poissonLaw(mean), 1-1e-14))
		for k := range last + 1 {
			score, err := PoissonScore(float64(k), m.Level, ratio)
			if err != nil {
				return ScoreLaw{}, err
			}
			atoms[score] += m.Share / total * math.Exp(xlogy(float64(k), mean)-mean-lgamma(float64(k)+1))
		}
	}
	return newScoreLaw(atoms), nil
}

const maxMixMean = 1e4

func checkMix(mix []CaseMix, ratio, truth, top float64) (total float64, err error) {
	if err := checkRatio(ratio); err != nil {
		return 0, err
	}
	if !(truth > 0 && truth <= 1e3) {
		return 0, fmt.Errorf("true ratio %g is not above 0 and at most 1000: %w", truth, ErrBadInput)
	}
	for i, m := range mix {
		if !(m.Level > 0 && m.Level <= top) || top == 1 && m.Level == 1 || !finiteCount(m.Share) {
			return 0, fmt.Errorf("case mix %d: level %g, share %g: %w", i, m.Level, m.Share, ErrBadInput)
		}
		total += m.Share
	}
	if total == 0 {
		return 0, fmt.Errorf("no case mix: %w", ErrNoData)
	}
	return total, nil
}

// newScoreLaw sorts the atoms, so that sums do not depend on their order.
func newScoreLaw(atoms map[float64]float64) ScoreLaw {
	var law ScoreLaw
	for s, p := range atoms {
		if p > 0 {
			law.score = append(law.score, s)
		}
	}
	slices.Sort(law.score)
	for _, s := range law.score {
		law.prob = append(law.prob, atoms[s])
	}
	return law
}
