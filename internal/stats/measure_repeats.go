package stats

import (
	"errors"
	"fmt"
	"math"
)

// ErrNoAnswer means that the input is sound but does not hold the answer, as when
// repeated readings tell no subject from another.
var ErrNoAnswer = errors.New("the data cannot answer this")

// Repeats is what a one-way analysis of variance of repeated readings needs, in a
// form that a query can sum. Subjects may have different numbers of readings; those
// with a single reading count towards Between only. Sums of squares are in the
// squared unit of the readings.
type Repeats struct {
	Subjects, Readings int64
	// Squares and Cubes are the sums over subjects of the second and third power of
	// the number of readings.
	Squares, Cubes float64
	// Within is the sum of squares about the subjects' means, Between the sum over
	// readings of the squared distance of the subject's mean from the grand mean.
	Within, Between float64
}

// CollectRepeats sums readings, one slice a subject, any unit. Empty slices are left
// out; a NaN or infinite reading is an error.
func CollectRepeats(subjects [][]float64) (Repeats, error) {
	var r Repeats
	grand, total := 0.0, 0.0
	for i, readings := range subjects {
		if len(readings) == 0 {
			continue
		}
		mean := 0.0
		for j, v := range readings {
			if math.IsNaN(v) || math.IsInf(v, 0) {
				return Repeats{}, fmt.Errorf("reading %d of subject %d is %v: %w", j, i, v, ErrBadInput)
			}
			step := v - mean
			mean += step / float64(j+1)
			r.Within += step * (v - mean)
		}
		n := float64(len(readings))
		r.Subjects++
		r.Readings += int64(len(readings))
		r.Squares += n * n
		r.Cubes += n * n * n
		step := mean - grand
		total += n
		grand += step * n / total
		r.Between += n * step * (mean - grand)
	}
	if r.Subjects == 0 {
		return Repeats{}, fmt.Errorf("no readings: %w", ErrNoData)
	}
	return r, nil
}

// check refuses sums that no set of readings can give.
func (r Repeats) check() error {
	k, n := float64(r.Subjects), float64(r.Readings)
	if r.Subjects == 0 && r.Readings == 0 {
		return fmt.Errorf("no readings: %w", ErrNoData)
	}
	const slack = 1 + 1e-9
	switch {
	case r.Subjects < 1 || r.Readings < r.Subjects || r.Readings > 1e10:
		return fmt.Errorf("%d readings of %d subjects: %w", r.Readings, r.Subjects, ErrBadInput)
	case !(r.Squares*slack >= n*n/k && r.Squares <= n*n*slack):
		return fmt.Errorf("sum of squared numbers of readings %v does not fit: %w", r.Squares, ErrBadInput)
	case !(r.Cubes*slack >= r.Squares*r.Squares/n && r.Cubes <= r.Squares*n*slack):
		return fmt.Errorf("sum of cubed numbers of readings %v does not fit: %w", r.Cubes, ErrBadInput)
	case !(r.Within >= 0 && r.Between >= 0 && r.Within <= math.MaxFloat64 && r.Between <= math.MaxFloat64):
		return fmt.Errorf("sums of squares %v and %v: %w", r.Within, r.Between, ErrBadInput)
	}
	return nil
}

// dfWithin and dfBetween are the degrees of freedom of the two sums of squares.
func (r Repeats) dfWithin() float64  { return float64(r.Readings - r.Subjects) }
func (r Repeats) dfBetween() float64 { return float64(r.Subjects - 1) }

// size is the number of readings a subject that makes the between mean square
// unbiased: the mean number where all subjects have the same, else a little less.
func (r Repeats) size() float64 {
	n := float64(r.Readings)
	return (n - r.Squares/n) / r.dfBetween()
}

// Repeatability is the scatter of repeated readings of one thing.
type Repeatability struct {
	// SD is the within-subject standard deviation Sw, in the unit of the readings.
	SD       float64
	SDLimits Interval
	// Coefficient is 1.96 sqrt(2) Sw = 2.77 Sw: two readings of one subject differ by
	// less than this 95 times in 100.
	Coefficient       float64
	CoefficientLimits Interval
	// DF is readings less subjects.
	DF       int64
	Warnings []Warning
}

// fewRepeatDF is about where the upper 95 % limit of an SD is half as large again
// as the estimate.
const fewRepeatDF = 15

// WithinSD returns the within-subject SD by one-way analysis of variance with its
// chi-square limits at the given level in (0,1), and the repeatability coefficient.
// Limits hold for normal errors of the same size at every subject. No subject with
// two readings is ErrNoData. Reference: Bland & Altman 1996, BMJ 313:744; 1999, Stat
// Methods Med Res 8:135.
func WithinSD(r Repeats, level float64) (Repeatability, error) {
	if err := firstError(r.check(), checkLevel(level)); err != nil {
		return Repeatability{}, err
	}
	df := r.dfWithin()
	if df == 0 {
		return Repeatability{}, fmt.Errorf("no subject was read twice: %w", ErrNoData)
	}
	tail := (1 - level) / 2
	limit := func(upper bool) float64 { return math.Sqrt(r.Within / (2 * gammaQuantile(tail, df/2, upper))) }
	out := Repeatability{SD: math.Sqrt(r.Within / df), SDLimits: Interval{limit(true), limit(false)}, DF: int64(df)}
	factor := intervalZ(0.95) * math.Sqrt2
	out.Coefficient = factor * out.SD
	out.CoefficientLimits = Interval{factor * out.SDLimits.Low, factor * out.SDLimits.High}
	if r.Within == 0 {
		out.Warnings = append(out.Warnings, Warning{"repeats-identical", "All repeats agree exactly. Were they taken anew or copied? The limits mean nothing here."})
	}
	if df < fewRepeatDF {
		out.Warnings = append(out.Warnings, Warning{"few-repeats", fmt.Sprintf("Only %.0f repeats beyond the first: %d or more would pin the scatter down.", df, fewRepeatDF)})
	}
	return out, nil
}

// fQuantile returns x with P(F > x) = p for an F law; 0 < p < 1.
func fQuantile(p, d1, d2 float64) float64 {
	x, y := betaQuantile(p, d1/2, d2/2, true), betaQuantile(p, d2/2, d1/2, false)
	return d2 / d1 * x / y
}

// tQuantile is the quantile of Student's t for a two-sided level.
func tQuantile(level, df float64) float64 { return math.Sqrt(fQuantile(1-level, 1, df)) }
