package stats

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/integrate/quad"
	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"
)

// chainCells is the number of cells between 0 and the limit that a run length is
// computed on. On a mix of risks twice as many move it by less than 1 %.
const chainCells = 360

// longestRun bounds run lengths: beyond it 1 minus the chance to go on loses its digits.
const longestRun = 1e9

// RunLength is the mean number of steps until a CUSUM that starts at 0 reaches the
// limit, when scores follow the law. It solves
//
//	L(x) = 1 + sum of prob(s) L(max(0, x+s)) over the scores s that stay below the limit
//
// for L linear between 361 evenly spaced points, a Markov chain which shares a step
// between the two nearest points. It is exact when every score is a multiple of a
// 360th of the limit, and otherwise was within 2 % of exact sums and of simulation.
// Checked against R's spc and surveillance with one level of risk or expectation; for a
// mix of risks, which neither has, against exact sums and simulation.
// A limit that is never reached, or only after more than 1e9 steps, gives +Inf.
// Source: Brook & Evans 1972, Biometrika 59:539, for the chain.
func RunLength(law ScoreLaw, limit float64) (float64, error) {
	if len(law.score) == 0 {
		return 0, fmt.Errorf("no score law: %w", ErrNoData)
	}
	if !(limit > 0) || math.IsInf(limit, 0) {
		return 0, fmt.Errorf("limit %g: %w", limit, ErrBadInput)
	}
	return chainLength(law, limit, chainCells)
}

func chainLength(law ScoreLaw, limit float64, cells int) (float64, error) {
	if !(law.score[len(law.score)-1] > 0) {
		return math.Inf(1), nil
	}
	return reached(newChain(law, limit, cells).length()), nil
}

// solveLength is the first element of the solution, +Inf when leaving is so rare
// that it cannot be told from never.
func solveLength(stay *mat.Dense, ones *mat.VecDense) (float64, error) {
	var length mat.VecDense
	if err := length.SolveVec(stay, ones); err != nil {
		var ill mat.Condition
		if !errors.As(err, &ill) {
			return 0, fmt.Errorf("run length: %w: %w", err, ErrNoConvergence)
		}
	}
	return reached(length.AtVec(0)), nil
}

// reached is a computed run length, +Inf where it is too long to be told from never.
func reached(length float64) float64 {
	if length >= 1-1e-9 && length <= longestRun {
		return length
	}
	return math.Inf(1)
}

// CusumLimit gives the smallest limit whose in-control run length is at least the
// one asked for (above 1 and at most 1e7 steps), and the run length it has. With
// few distinct scores run lengths jump, so that it may be well above the one asked
// for; the limit is then set just past the jump, where the chain is right again.
func CusumLimit(law ScoreLaw, runLength float64) (limit, achieved float64, err error) {
	return CusumLimitBetween(law, runLength, 0, math.Inf(1))
}

// CusumLimitBetween is CusumLimit for a caller who knows one limit that is too low and
// one that is not; 0 and +Inf say nothing.
func CusumLimitBetween(law ScoreLaw, runLength, low, high float64) (limit, achieved float64, err error) {
	if err := checkRunLength(runLength); err != nil {
		return 0, 0, err
	}
	if !(low >= 0 && low < high) {
		return 0, 0, fmt.Errorf("limits %g and %g: %w", low, high, ErrBadInput)
	}
	if len(law.score) == 0 {
		return 0, 0, fmt.Errorf("no score law: %w", ErrNoData)
	}
	top := law.score[len(law.score)-1]
	if !(top > 0) {
		return 0, 0, fmt.Errorf("no score is above 0: %w", ErrBadInput)
	}
	length := func(h float64) (float64, error) { return chainLength(law, h, chainCells) }
	s := limitSearch{want: runLength, length: length, low: low, high: high, jumps: law.score}
	if limit, achieved, err = s.smallest(top); err != nil {
		return 0, 0, err
	}
	return pastJump(limit, achieved, length)
}

// pastJump moves a limit off a jump of the run length. The chain smears a jump over
// about two cells, and inside the smear its value belongs to neither side. Apart
// from jumps the run length of log likelihood ratios grows about like exp(limit).
func pastJump(limit, achieved float64, length func(float64) (float64, error)) (float64, float64, error) {
	const tolerance = 1.005
	past := limit * (1 + 2.0/chainCells)
	l, err := length(past)
	if err != nil || l <= tolerance*math.Exp(past-limit)*achieved {
		return limit, achieved, err
	}
	return past, l, nil
}

func checkRunLength(runLength float64) error {
	if !(runLength > 1 && runLength <= 1e7) {
		return fmt.Errorf("run length %g is not above 1 and at most 1e7: %w", runLength, ErrBadInput)
	}
	return nil
}

// ewmaNodes are enough for 8 digits at weights of 0.02 and more.
const ewmaNodes = 120

// EWMARunLength is the mean number of steps until an EWMA of independent normal
// values with variance 1 and the given mean shift leaves centre +- width standard
// errors, starting at the centre, with the limits of a chart that has run long:
// width sqrt(weight/(2-weight)). It solves the integral equation by Gauss-Legendre
// quadrature (Crowder 1987, Technometrics 29:401). weight is in [0.02,1], width in
// (0,8]; it is +Inf beyond 1e9.
func EWMARunLength(weight, width, shift float64) (float64, error) {
	if !(weight >= 0.02 && weight <= 1 && width > 0 && width <= 8) || !finite(shift) {
		return 0, fmt.Errorf("weight %g, width %g, shift %g: %w", weight, width, shift, ErrBadInput)
	}
	c := width * math.Sqrt(weight/(2-weight))
	x, w := make([]float64, ewmaNodes), make([]float64, ewmaNodes)
	quad.Legendre{}.FixedLocations(x, w, -c, c)
	// The start is one more point, with no weight of its own.
	from := append([]float64{0}, x...)
	n := len(from)
	stay, ones := mat.NewDense(n, n, nil), mat.NewVecDense(n, nil)
	for i, u := range from {
		ones.SetVec(i, 1)
		stay.Set(i, i, 1)
		for j, y := range x {
			density := distuv.UnitNormal.Prob((y-(1-weight)*u)/weight-shift) / weight
			stay.Set(i, j+1, stay.At(i, j+1)-w[j]*density)
		}
	}
	return solveLength(stay, ones)
}

// EWMAWidth gives the width whose in-control run length is the one asked for, above
// 1 and at most 1e7, to a millionth of the width.
func EWMAWidth(weight, runLength float64) (float64, error) {
	if err := checkRunLength(runLength); err != nil {
		return 0, err
	}
	length := func(h float64) (float64, error) { return EWMARunLength(weight, min(h, 8), 0) }
	s := limitSearch{want: runLength, length: length, high: math.Inf(1)}
	width, _, err := s.smallest(0.5)
	return width, err
}
