// Package stats holds the numerics behind every figure: intervals, survival
// curves, regression on weighted covariate patterns, comparison, monitoring and
// measurement.
//
// Functions take slices and small matrices and return plain results. The package
// knows no SQL, no HTML and no words of any trade. Bad input is an error, never a
// panic; a result that needs a caution carries it as a Warning. No function
// changes a slice that it was given.
package stats

import "errors"

// Errors shared by the package. Functions wrap them with the argument at fault.
var (
	// ErrNoData means that there is nothing to compute from: no rows, or no weight.
	ErrNoData = errors.New("no data")
	// ErrBadInput means that an argument is outside its domain (NaN, negative
	// count, level outside (0,1), lengths that differ).
	ErrBadInput = errors.New("bad input")
	// ErrNoConvergence means that an iteration ended without meeting its tolerance.
	ErrNoConvergence = errors.New("no convergence")
)

// Interval is a two-sided interval with Low <= High. A limit that does not exist
// is -Inf or +Inf, never NaN.
type Interval struct {
	Low, High float64
}

// Warning is a caution that travels with a result. Code is stable and meant for
// programs; Text is a sentence for people and says what would mend the matter
// where something would.
type Warning struct {
	Code, Text string
}
