package stats

import (
	"fmt"
	"math"
)

// RunsTest holds the two runs rules for a run chart. Useful counts the points that
// are not on the centre line; LongestRun and Crossings are taken over those. Shift
// signals when LongestRun exceeds LongestAllowed = round(log2 Useful) + 3, Few
// when Crossings is below CrossingsNeeded, the 5th percentile of the binomial law
// with Useful-1 tosses of a fair coin. FalseSignal is the exact chance that either
// signals when the points are independent and fall on either side evenly: 3 to 9 %
// for 10 to 50 points. A shift called at LongestAllowed itself would nearly double it.
type RunsTest struct {
	Useful, LongestRun, Crossings   int
	LongestAllowed, CrossingsNeeded int
	Shift, Few                      bool
	FalseSignal                     float64
	Warnings                        []Warning
}

const (
	maxRunPoints = 2000 // beyond it the exact false-signal rate takes seconds
	fewRunPoints = 10   // common practice, no source
)

// RunsRules applies the shift and crossings rules to values in time order against
// a centre line, usually the median. At most 2000 values; NaN and infinities are
// ErrBadInput, and no value off the centre line is ErrNoData.
// Source: Anhoj & Olesen 2014, PLoS One 9:e113825.
func RunsRules(values []float64, center float64) (RunsTest, error) {
	if len(values) > maxRunPoints || !finite(center) {
		return RunsTest{}, fmt.Errorf("%d values about %g: %w", len(values), center, ErrBadInput)
	}
	var r RunsTest
	run, above := 0, false
	for i, v := range values {
		switch {
		case !finite(v):
			return RunsTest{}, fmt.Errorf("value %d is %g: %w", i, v, ErrBadInput)
		case v == center:
			continue
		case r.Useful > 0 && above == (v > center):
			run++
		default:
			if r.Useful > 0 {
				r.Crossings++
			}
			run, above = 1, v > center
		}
		r.Useful++
		r.LongestRun = max(r.LongestRun, run)
	}
	if r.Useful == 0 {
		return RunsTest{}, fmt.Errorf("no value off the centre line: %w", ErrNoData)
	}
	return r.judged(), nil
}

func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }

func (r RunsTest) judged() RunsTest {
	r.LongestAllowed = int(math.Round(math.Log2(float64(r.Useful)))) + 3
	r.CrossingsNeeded = int(exactQuantile(binomialLaw(float64(r.Useful-1), 0.5), 0.05))
	r.Shift = r.LongestRun > r.LongestAllowed
	r.Few = r.Crossings < r.CrossingsNeeded
	r.FalseSignal = falseRunSignal(r.Useful, r.LongestAllowed, r.CrossingsNeeded)
	r.Warnings = []Warning{}
	if r.Useful < fewRunPoints {
		r.Warnings = append(r.Warnings, Warning{"few-points", fmt.Sprintf("The runs rules see %d points; with at least %d they can tell a shift from chance.", r.Useful, fewRunPoints)})
	}
	return r
}

// falseRunSignal is the chance that n fair independent signs hold a run longer than
// longest or fewer crossings than needed. The quiet sequences are followed by the
// length of the run at the end and the number of crossings, which counts no
// further than needed.
func falseRunSignal(n, longest, needed int) float64 {
	at := make([][]float64, needed+1) // [crossings][run length - 1]
	next := make([][]float64, needed+1)
	for c := range at {
		at[c], next[c] = make([]float64, longest), make([]float64, longest)
	}
	at[0][0] = 1
	for range n - 1 {
		for c := range next {
			clear(next[c])
		}
		for c, runs := range at {
			crossed := min(c+1, needed)
			for l, p := range runs {
				next[crossed][0] += p / 2
				if l+1 < longest {
					next[c][l+1] += p / 2
				}
			}
		}
		at, next = next, at
	}
	quiet := 0.0
	for _, p := range at[needed] {
		quiet += p
	}
	return max(0, 1-quiet)
}

// RunsAccepted gives the fewest and the most runs that a two-sided test at 1-level
// accepts when above points lie above the line and below points below it, in an
// order left to chance: each tail beyond them has probability at most (1-level)/2.
// above and below are 1 to 2000, level is in (0,1).
// Source: Wald & Wolfowitz 1940, Ann Math Stat 11:147; Swed & Eisenhart 1943, Ann
// Math Stat 14:66 for tables.
func RunsAccepted(above, below int, level float64) (fewest, most int, err error) {
	if err := checkLevel(level); err != nil {
		return 0, 0, err
	}
	if above < 1 || below < 1 || above > maxRunPoints || below > maxRunPoints {
		return 0, 0, fmt.Errorf("%d points above and %d below: %w", above, below, ErrBadInput)
	}
	tail := (1 - level) / 2
	fewest, most = 2, min(2*min(above, below)+1, above+below)
	for p := runsProb(above, below, fewest); p <= tail && fewest < most; p += runsProb(above, below, fewest) {
		fewest++
	}
	for p := runsProb(above, below, most); p <= tail && most > fewest; p += runsProb(above, below, most) {
		most--
	}
	return fewest, most, nil
}

// runsProb is the chance of exactly r runs: the ways to cut the points above and
// those below into alternating runs, over the ways to place them.
func runsProb(above, below, r int) float64 {
	ways := func(a, b int) float64 {
		return math.Exp(logChoose(above-1, a-1) + logChoose(below-1, b-1) - logChoose(above+below, above))
	}
	if r%2 == 0 {
		return 2 * ways(r/2, r/2)
	}
	return ways(r/2, r/2+1) + ways(r/2+1, r/2)
}

func logChoose(n, k int) float64 {
	if k < 0 || k > n {
		return math.Inf(-1)
	}
	return lgamma(float64(n+1)) - lgamma(float64(k+1)) - lgamma(float64(n-k+1))
}
