package stats

import (
	"fmt"
	"math"
)

// Runs counts what a series does about its centre. Useful is the number of values
// off the centre; values on it are passed over. Longest is the longest stretch on
// one side, Crossings the number of changes of side.
type Runs struct {
	Useful, Longest, Crossings int
	// MaxRun and MinCrossings are the bounds that a steady series keeps to.
	MaxRun, MinCrossings int
	// Shift is set when Longest is above MaxRun, FewCrossings when Crossings is below
	// MinCrossings.
	Shift, FewCrossings bool
	// FalseShift, FalseCrossings and FalseEither are the probabilities that a steady
	// series of this length, about a known centre, breaks the one rule, the other, or
	// at least one.
	FalseShift, FalseCrossings, FalseEither float64
}

// maxRunsLength bounds the exact probabilities, whose cost grows with the square of
// the length times the logarithm.
const maxRunsLength = 1000

// CountRuns applies the shift and the crossings rule (Anhoj & Olesen 2014, PLoS
// One 9:e113825): a shift when a run is longer than round(log2(n) + 3), too few
// crossings when there are fewer than the lower 5 % point of the binomial law with
// n-1 trials at one half. n counts the values off the centre. Fewer than 10 of
// those rarely let a rule break; the false-signal rates tell how rarely.
// NaN and infinite values, an empty series and more than 1000 values are errors.
func CountRuns(values []float64, centre float64) (Runs, error) {
	if len(values) == 0 {
		return Runs{}, fmt.Errorf("no values: %w", ErrNoData)
	}
	if len(values) > maxRunsLength {
		return Runs{}, fmt.Errorf("%d values, at most %d: %w", len(values), maxRunsLength, ErrBadInput)
	}
	var r Runs
	var last float64
	run := 0
	for i, v := range append([]float64{centre}, values...) {
		side := v - centre
		if math.IsNaN(side) || math.IsInf(side, 0) {
			return Runs{}, fmt.Errorf("value %d is %g about %g: %w", i-1, v, centre, ErrBadInput)
		}
		if side == 0 {
			continue
		}
		switch {
		case r.Useful > 0 && (side > 0) == (last > 0):
			run++
		case r.Useful > 0:
			r.Crossings++
			run = 1
		default:
			run = 1
		}
		last, r.Useful, r.Longest = side, r.Useful+1, max(r.Longest, run)
	}
	return r.judge(), nil
}

func (r Runs) judge() Runs {
	if r.Useful == 0 {
		return r
	}
	r.MaxRun, r.MinCrossings = runsBounds(r.Useful)
	r.Shift, r.FewCrossings = r.Longest > r.MaxRun, r.Crossings < r.MinCrossings
	r.FalseShift, r.FalseCrossings, r.FalseEither = runsFalseRates(r.Useful, r.MaxRun, r.MinCrossings)
	return r
}

func runsBounds(n int) (maxRun, minCrossings int) {
	tails := func(k int64) (float64, float64) { return binomialTails(k, int64(n-1), 0.5) }
	if n > 1 {
		minCrossings = int(discreteQuantile(0.05, float64(n-1)/2, tails))
	}
	return int(math.Round(math.Log2(float64(n)))) + 3, minCrossings
}

// runsFalseRates follows n fair coins by the pair (crossings so far, up to the
// bound; length of the current run). Paths that break the run rule leave the table.
func runsFalseRates(n, maxRun, minCrossings int) (shift, crossings, either float64) {
	// at[c][l]: probability of c crossings (the last c pooled) and a run of l.
	at := newRunsTable(minCrossings, maxRun)
	at[0][1] = 1
	for range n - 1 {
		next := newRunsTable(minCrossings, maxRun)
		for c, row := range at {
			up := min(c+1, minCrossings)
			for l := 1; l <= maxRun; l++ {
				if l < maxRun {
					next[c][l+1] += row[l] / 2
				}
				next[up][1] += row[l] / 2
			}
		}
		at = next
	}
	var inRun, both float64
	for c, row := range at {
		for _, p := range row {
			inRun += p
			if c == minCrossings {
				both += p
			}
		}
	}
	if minCrossings > 0 {
		crossings, _ = binomialTails(int64(minCrossings-1), int64(n-1), 0.5)
	}
	return max(0, 1-inRun), crossings, max(0, 1-both)
}

func newRunsTable(crossings, maxRun int) [][]float64 {
	t := make([][]float64, crossings+1)
	for i := range t {
		t[i] = make([]float64, maxRun+1)
	}
	return t
}

// RunsAccepted gives the smallest and largest number of runs that a two-sided test
// accepts when above values lie above the centre and below values below it, all
// orders being equally likely (Wald & Wolfowitz 1940; tabled by Swed & Eisenhart
// 1943). It suits a series about its own median. alpha is in (0,1), such as 0.05;
// each side rejects with at most alpha/2.
func RunsAccepted(above, below int, alpha float64) (low, high int, err error) {
	if above < 1 || below < 1 || above+below > maxRunsLength || !(alpha > 0 && alpha < 1) {
		return 0, 0, fmt.Errorf("runs of %d above and %d below at %g: %w", above, below, alpha, ErrBadInput)
	}
	top := 2*min(above, below) + 1
	if above == below {
		top--
	}
	low, high = 2, top
	for tail := runsProbability(above, below, low); tail <= alpha/2 && low < high; low++ {
		tail += runsProbability(above, below, low+1)
	}
	for tail := runsProbability(above, below, high); tail <= alpha/2 && high > low; high-- {
		tail += runsProbability(above, below, high-1)
	}
	return low, high, nil
}

// runsProbability is the chance of exactly r runs.
func runsProbability(a, b, r int) float64 {
	half, odd := r/2, r%2
	ways := math.Exp(logChoose(a-1, half-1) + logChoose(b-1, half-1+odd) - logChoose(a+b, a))
	return ways + math.Exp(logChoose(a-1, half-1+odd)+logChoose(b-1, half-1)-logChoose(a+b, a))
}

func logChoose(n, k int) float64 {
	if k < 0 || k > n {
		return math.Inf(-1)
	}
	return lgamma(float64(n+1)) - lgamma(float64(k+1)) - lgamma(float64(n-k+1))
}
