package review

import (
	"fmt"
	"math"
	"slices"

	"afterfit/internal/stats"
)

// cusum watches one unit for a rate of CusumRatio times the expected one. Scores are
// divided by the dispersion, and the limit is that of counts which scatter so, since
// patients who come at all come several times. Immature periods take part, since their expected
// counts are no more than what has fallen due; the last value may still move.
func (q *asker) cusum(s *timeSeries, kind string, mature int, phi float64) (CusumChart, error) {
	phi = math.Max(1, phi)
	c := CusumChart{Ratio: q.s.CusumRatio, Limit: Num(math.NaN()), RunLength: Num(math.NaN()), Fineness: kind, Points: []CusumPoint{}, Signals: []string{}, Query: "time_sums"}
	var levels, scores []float64
	var at []int
	total := 0.0
	for i, x := range s.sums {
		if x.expected > 0 {
			score, err := stats.PoissonScore(float64(x.observed)/phi, x.expected/phi, c.Ratio)
			if err != nil {
				return c, err
			}
			levels, scores, at, total = append(levels, x.expected), append(scores, score), append(at, i), total+x.expected/phi
		}
	}
	if total < q.s.MinExpected || len(scores) < 3 {
		c.TooFew = fmt.Sprintf("Too few to watch: %.1f events expected once patients’ scatter is allowed for, %g or more are needed.", total, q.s.MinExpected)
		return c, nil
	}
	limit, length, err := cusumLimit(levels, c.Ratio, phi, float64(q.s.FalseAlarmYears*perYear[kind]))
	if err != nil {
		return c, err
	}
	path, err := stats.Cusum(scores, limit)
	if err != nil {
		return c, err
	}
	c.Limit, c.RunLength = Num(limit), Num(length)
	for j, i := range at {
		x := s.sums[i]
		c.Points = append(c.Points, CusumPoint{Period: periodName(kind, s.first+i), Value: Num(path.Values[j]), Observed: x.observed, Expected: Num(x.expected), Immature: i >= mature})
	}
	for _, j := range path.Signals {
		c.Signals = append(c.Signals, c.Points[j].Period)
	}
	return c, nil
}

// cusumClasses is into how many classes a unit's expected counts are put for the law
// of its scores: limits then move by less than their own rounding.
const cusumClasses = 4

// nextToNothing is a limit that any step reaches whose score is above zero.
const nextToNothing = 1e-9

// mostLevel is the most events of a period that a law of scores is drawn up for. A
// busier period lets chance signal less often still, so that counting it as one of
// mostLevel errs on the side of a longer time between false alarms.
const mostLevel = 2500

// scoreLaw is the law of a unit's scores when its rate is truth times the expected one.
func scoreLaw(levels []float64, ratio, truth, phi float64) (stats.ScoreLaw, error) {
	sorted := slices.Clone(levels)
	slices.Sort(sorted)
	var mix []stats.CaseMix
	for i := range cusumClasses {
		part := sorted[i*len(sorted)/cusumClasses : (i+1)*len(sorted)/cusumClasses]
		if len(part) == 0 {
			continue
		}
		sum := 0.0
		for _, e := range part {
			sum += e
		}
		mix = append(mix, stats.CaseMix{Level: math.Min(mostLevel, sum/float64(len(part))), Share: float64(len(part))})
	}
	return stats.ScatteredScoreLaw(mix, ratio, truth, phi)
}

// cusumLimit finds a limit whose in-control run length is at least the one asked for
// and at most 3 % above it, by the nearly straight line of its logarithm over the
// limit. Where run lengths jump past that band, stats.CusumLimit decides.
//
// Periods of many events tell the two rates apart so well that chance alone signals
// seldom enough at any limit, however low. The limit is then log(ratio), where the
// raised rate has become ratio times as likely as the expected one; length is +Inf
// where chance would practically never reach it.
func cusumLimit(levels []float64, ratio, phi, wanted float64) (limit, length float64, err error) {
	law, err := scoreLaw(levels, ratio, 1, phi)
	if err != nil {
		return 0, 0, err
	}
	if any, err := stats.RunLength(law, nextToNothing); err != nil {
		return 0, 0, err
	} else if any >= wanted {
		limit = math.Log(ratio)
		length, err = stats.RunLength(law, limit)
		return limit, length, err
	}
	low, high := 0.0, math.Inf(1)
	logLow, logHigh := 0.0, 0.0
	at := math.Log(wanted) * 0.7
	aim := math.Log(wanted * 1.015)
	for range 12 {
		got, err := stats.RunLength(law, at)
		if err != nil {
			return 0, 0, err
		}
		if got >= wanted && got <= 1.03*wanted {
			return at, got, nil
		}
		if got < wanted {
			low, logLow = at, math.Log(got)
		} else {
			high, logHigh = at, math.Log(got)
		}
		switch {
		case math.IsInf(high, 1):
			at *= 1.5
		case math.IsInf(logHigh, 1):
			at = (low + high) / 2
		default:
			share := (aim - logLow) / (logHigh - logLow)
			at = low + (high-low)*math.Min(0.95, math.Max(0.05, share))
		}
	}
	return stats.CusumLimitBetween(law, wanted, low, high)
}
