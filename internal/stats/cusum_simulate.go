package stats

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"sort"
)

// RunLengths summarises simulated run lengths: their mean with its standard error
// and their median. Cut counts runs stopped at the longest length allowed; they
// enter with that length, so that with any of them Mean is too low.
type RunLengths struct {
	Mean, SE, Median float64
	Runs, Cut        int
}

// Simulate draws run lengths of the CUSUM at this limit when the true ratio is
// actual: steps drawn independently from the design by a PCG generator with this
// seed, so that the same call gives the same answer everywhere. runs is at least 2,
// longest at least 1 step.
func (c CusumDesign) Simulate(limit, actual float64, runs, longest int, seed uint64) (RunLengths, error) {
	if err := c.check(limit, actual); err != nil {
		return RunLengths{}, err
	}
	draw := stepDrawer(c.steps(actual))
	return simulateRuns(runs, longest, seed, func(rng *rand.Rand) func() bool {
		s := 0.0
		return func() bool {
			s = max(0, s+draw(rng))
			return cusumAlarm(s, limit)
		}
	})
}

// stepDrawer draws a score by its probability.
func stepDrawer(steps []cusumStep) func(*rand.Rand) float64 {
	upTo := make([]float64, len(steps))
	var sum float64
	for i, w := range steps {
		sum += w.prob
		upTo[i] = sum
	}
	return func(rng *rand.Rand) float64 {
		i := sort.SearchFloat64s(upTo, rng.Float64()*sum)
		return steps[min(i, len(steps)-1)].score
	}
}

// simulateRuns times each run from start until its step reports an alarm.
func simulateRuns(runs, longest int, seed uint64, start func(*rand.Rand) func() bool) (RunLengths, error) {
	if runs < 2 || longest < 1 {
		return RunLengths{}, fmt.Errorf("%d runs of at most %d steps: %w", runs, longest, ErrBadInput)
	}
	rng := rand.New(rand.NewPCG(seed, 0))
	out := RunLengths{Runs: runs}
	lengths := make([]float64, runs)
	var sum, squares float64
	for r := range lengths {
		alarm := start(rng)
		n, rang := 0, false
		for n < longest && !rang {
			n++
			rang = alarm()
		}
		if !rang {
			out.Cut++
		}
		l := float64(n)
		lengths[r], sum, squares = l, sum+l, squares+l*l
	}
	n := float64(runs)
	out.Mean = sum / n
	out.SE = math.Sqrt(max(0, squares/n-out.Mean*out.Mean) / (n - 1))
	slices.Sort(lengths)
	out.Median = (lengths[(runs-1)/2] + lengths[runs/2]) / 2
	return out, nil
}
