package stats

import (
	"fmt"
	"math"
)

// RiskGroup is a share of the cases that meet the same predicted risk: a chance in
// (0,1) for a Bernoulli CUSUM, an expected count above 0 for a Poisson one. Weight
// is any positive number; weights are scaled to sum 1.
type RiskGroup struct {
	Risk, Weight float64
}

// CusumScores are the log-likelihood-ratio scores of one case.
type CusumScores struct {
	Event, NoEvent float64
}

// BernoulliScores weighs the odds ratio sought against the odds ratio 1 for a case
// with predicted chance p in (0,1) (Steiner, Cook, Farewell & Treasure 2000,
// Biostatistics 1:441):
//
//	event     log(R / (1 - p + R p))
//	no event  log(1 / (1 - p + R p))
//
// oddsRatio is positive and not 1; above 1 the CUSUM looks for worsening, below 1
// for improvement.
func BernoulliScores(p, oddsRatio float64) (CusumScores, error) {
	if !(p > 0 && p < 1) {
		return CusumScores{}, fmt.Errorf("risk %g is not inside (0,1): %w", p, ErrBadInput)
	}
	if err := checkSought(oddsRatio); err != nil {
		return CusumScores{}, err
	}
	none := -math.Log1p(p * (oddsRatio - 1))
	return CusumScores{math.Log(oddsRatio) + none, none}, nil
}

// PoissonScore is the score of a count with the given expected value against a
// rate ratio sought: count log(R) - expected (R - 1).
func PoissonScore(count, expected, rateRatio float64) (float64, error) {
	if !finiteCount(count) || !finiteCount(expected) || expected == 0 && count > 0 {
		return 0, fmt.Errorf("count %g, expected %g: %w", count, expected, ErrBadInput)
	}
	if err := checkSought(rateRatio); err != nil {
		return 0, err
	}
	return count*math.Log(rateRatio) - expected*(rateRatio-1), nil
}

func checkSought(ratio float64) error {
	if !(ratio > 0) || math.IsInf(ratio, 1) || ratio == 1 {
		return fmt.Errorf("ratio sought %g: %w", ratio, ErrBadInput)
	}
	return nil
}

// CusumPath follows S_t = max(0, S_{t-1} + score_t) from S_0 = 0. Alarm is the index
// of the first S_t that reaches the limit, -1 without one. The path goes on after an alarm as if
// there had been none. Scores that are not finite and limits not above 0 are errors.
func CusumPath(scores []float64, limit float64) (path []float64, alarm int, err error) {
	if !(limit > 0) {
		return nil, -1, fmt.Errorf("limit %g: %w", limit, ErrBadInput)
	}
	path, alarm = make([]float64, len(scores)), -1
	s := 0.0
	for i, w := range scores {
		if math.IsNaN(w) || math.IsInf(w, 0) {
			return nil, -1, fmt.Errorf("score %d is %g: %w", i, w, ErrBadInput)
		}
		s = max(0, s+w)
		path[i] = s
		if alarm < 0 && cusumAlarm(s, limit) {
			alarm = i
		}
	}
	return path, alarm, nil
}

// cusumAlarm tells whether s reaches the limit, up to the rounding of a sum: scores
// that are fractions of each other meet a limit to the last digit.
func cusumAlarm(s, limit float64) bool { return s >= limit*(1-1e-12) }

// CusumDesign is a CUSUM whose run length is asked for: the groups of risk that
// cases come from, independently of each other, and the ratio sought.
type CusumDesign struct {
	steps func(ratio float64) []cusumStep
}

// cusumStep is one possible score with its probability.
type cusumStep struct{ score, prob float64 }

// NewBernoulliCusum describes a risk-adjusted Bernoulli CUSUM; a step is a case.
func NewBernoulliCusum(groups []RiskGroup, oddsRatio float64) (CusumDesign, error) {
	total, err := checkGroups(groups, 1)
	if err == nil {
		err = checkSought(oddsRatio)
	}
	if err != nil {
		return CusumDesign{}, err
	}
	groups = append([]RiskGroup(nil), groups...)
	return CusumDesign{func(actual float64) []cusumStep {
		steps := make([]cusumStep, 0, 2*len(groups))
		for _, g := range groups {
			s, _ := BernoulliScores(g.Risk, oddsRatio) // checked above
			p := actual * g.Risk / (1 + (actual-1)*g.Risk)
			w := g.Weight / total
			steps = append(steps, cusumStep{s.Event, w * p}, cusumStep{s.NoEvent, w * (1 - p)})
		}
		return steps
	}}, nil
}

// NewPoissonCusum describes a risk-adjusted Poisson CUSUM; a step is a period, and
// groups are the expected counts that periods come with. Counts beyond all but
// 1e-12 of the law are pooled into the last.
func NewPoissonCusum(groups []RiskGroup, rateRatio float64) (CusumDesign, error) {
	total, err := checkGroups(groups, 1e6)
	if err == nil {
		err = checkSought(rateRatio)
	}
	if err != nil {
		return CusumDesign{}, err
	}
	groups = append([]RiskGroup(nil), groups...)
	return CusumDesign{func(actual float64) []cusumStep {
		var steps []cusumStep
		for _, g := range groups {
			cdf := cmpPoissonCDF(actual * g.Risk)
			below := 0.0
			for k := 0.0; below < 1-1e-12; k++ {
				at := cdf(k)
				score, _ := PoissonScore(k, g.Risk, rateRatio) // checked above
				steps = append(steps, cusumStep{score, g.Weight / total * (at - below)})
				below = at
			}
		}
		return steps
	}}, nil
}

func checkGroups(groups []RiskGroup, top float64) (total float64, err error) {
	if len(groups) == 0 {
		return 0, fmt.Errorf("no groups of risk: %w", ErrNoData)
	}
	for i, g := range groups {
		if !(g.Risk > 0 && g.Risk < top) || !(g.Weight > 0) || math.IsInf(g.Weight, 1) {
			return 0, fmt.Errorf("group %d with risk %g and weight %g: %w", i, g.Risk, g.Weight, ErrBadInput)
		}
		total += g.Weight
	}
	return total, nil
}
