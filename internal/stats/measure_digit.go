package stats

import (
	"fmt"

	"gonum.org/v1/gonum/stat/distuv"
)

// ReadingCount is a reading as a whole number of some small unit (such as 0.01 mm), so
// that its digits are exact, and how many times it was read.
type ReadingCount struct {
	Value, N int64
}

// DigitGrid says how readings fall, in the unit of the readings.
type DigitGrid struct {
	// Step is the instrument's resolution; Cycle a whole number (2 or more) of steps,
	// within which every step should come up equally often. The favoured readings are
	// the multiples of Cycle: with 5 mm, whole readings ending in 0 or 5.
	Step, Cycle int64
}

// DigitPreference is how far readings lean to favoured values.
type DigitPreference struct {
	// N is the number of readings on the grid, Favoured those at a multiple of the cycle.
	N, Favoured int64
	// OffGrid is the number of readings finer than the instrument's step, left out.
	OffGrid int64
	// Share is Favoured/N with bootstrap limits; Expected is what even use would give.
	Share, Expected float64
	Limits          Interval
	// Counts are the readings at each step of the cycle, the favoured ones first.
	Counts []int64
	// ChiSquare, DF and P test even use of all steps; Favoured is one of them. Readings
	// of one person or made by one hand are not independent, so that P is too small.
	ChiSquare, P float64
	DF           int
	Warnings     []Warning
}

// DigitPreferenceOf counts readings, one slice a group that hangs together (a reader, a
// subject). With two or more groups the bootstrap draws whole groups, with one group it
// draws single readings. A cycle of 5 mm rather than 10 keeps the test honest for
// readings that spread over a few millimetres only. No reading on the grid is
// ErrNoData.
func DigitPreferenceOf(groups [][]ReadingCount, g DigitGrid, o BootstrapOptions) (DigitPreference, error) {
	if g.Step < 1 || g.Cycle/g.Step < 2 || g.Cycle%g.Step != 0 || g.Cycle/g.Step > 10000 {
		return DigitPreference{}, fmt.Errorf("cycle %d of steps %d: %w", g.Cycle, g.Step, ErrBadInput)
	}
	if err := o.check(); err != nil {
		return DigitPreference{}, err
	}
	out := DigitPreference{Counts: make([]int64, g.Cycle/g.Step), Expected: float64(g.Step) / float64(g.Cycle)}
	favoured, total := make([]float64, 0, len(groups)), make([]float64, 0, len(groups))
	for _, group := range groups {
		before, beforeFavoured := out.N, out.Counts[0]
		if err := out.add(group, g); err != nil {
			return DigitPreference{}, err
		}
		if out.N > before {
			favoured, total = append(favoured, float64(out.Counts[0]-beforeFavoured)), append(total, float64(out.N-before))
		}
	}
	if out.N == 0 {
		return DigitPreference{}, fmt.Errorf("no readings on the grid (%d off it): %w", out.OffGrid, ErrNoData)
	}
	out.Favoured = out.Counts[0]
	out.Share = float64(out.Favoured) / float64(out.N)
	out.testEvenUse()
	return out, out.limits(favoured, total, o)
}

// maxReadings keeps sums of counts exact as floats.
const maxReadings = 1 << 50

// add counts one group's readings at their steps.
func (d *DigitPreference) add(group []ReadingCount, g DigitGrid) error {
	for _, r := range group {
		if r.N < 0 || r.N > maxReadings || d.N+d.OffGrid+r.N > maxReadings {
			return fmt.Errorf("%d readings of %d: %w", r.N, r.Value, ErrBadInput)
		}
		if r.Value%g.Step != 0 {
			d.OffGrid += r.N
			continue
		}
		place := r.Value % g.Cycle
		if place < 0 {
			place += g.Cycle
		}
		d.Counts[place/g.Step] += r.N
		d.N += r.N
	}
	return nil
}

func (d *DigitPreference) testEvenUse() {
	each := float64(d.N) * d.Expected
	for _, n := range d.Counts {
		gap := float64(n) - each
		d.ChiSquare += gap * gap / each
	}
	d.DF = len(d.Counts) - 1
	_, d.P = gammaTails(float64(d.DF)/2, d.ChiSquare/2)
	if each < 5 {
		d.Warnings = append(d.Warnings, Warning{"few-expected", fmt.Sprintf("Only %.1f readings are expected at each step: the test needs 5 or more, %d readings in all.", each, 5*len(d.Counts))})
	}
	if d.OffGrid > 0 {
		d.Warnings = append(d.Warnings, Warning{"off-grid", fmt.Sprintf("%d readings are finer than the instrument's step and are left out.", d.OffGrid)})
	}
}

// limits sets the percentile limits of the share.
func (d *DigitPreference) limits(favoured, total []float64, o BootstrapOptions) error {
	if len(total) == 1 {
		d.Limits = drawShares(d.N, d.Share, o)
		return nil
	}
	b, err := Bootstrap(len(total), func(w []float64) (float64, error) {
		return dot(w, favoured) / dot(w, total), nil
	}, o)
	if err != nil {
		return err
	}
	d.Limits, d.Warnings = b.Percentile, append(d.Warnings, b.Warnings...)
	if d.Favoured == 0 || d.Favoured == d.N {
		d.Warnings = append(d.Warnings, Warning{"all-alike", "All readings fall on one side: the bootstrap cannot show the uncertainty."})
	}
	return nil
}

// drawShares returns percentile limits of the share among n readings drawn one by one,
// which is a binomial draw; where all or none are favoured it gives the exact limits,
// because every resample would be the same.
func drawShares(n int64, share float64, o BootstrapOptions) Interval {
	if share == 0 || share == 1 {
		return clopperPearson(share*float64(n), float64(n), (1-o.Level)/2)
	}
	draw := distuv.Binomial{N: float64(n), P: share, Src: newSource(o.Seed)}
	shares := make([]float64, o.Replicates)
	for i := range shares {
		shares[i] = draw.Rand() / float64(n)
	}
	return percentileLimits(shares, o.Level)
}
