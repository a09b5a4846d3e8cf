package review

import (
	"cmp"
	"context"
	"errors"
	"maps"
	"math"
	"slices"
	"strings"

	"afterfit/internal/stats"
	"afterfit/internal/store"
)

// doseRepeats is how many readings beyond the first are needed to say how well a
// measure is read: with fewer its scatter is known to within a factor of 1.5 only.
const doseRepeats = 15

// scatter is the within-case variance of single readings of one measure.
type scatter struct {
	squares float64 // mm2, about the cases' means
	df      int64
}

// readings say how well measures are read, and of how many readings each denture's values
// are the means.
type readings struct {
	by       map[string]scatter
	vdr, vdo []uint8 // by denture: readings by the case's own clinician, 1 where none was written down singly
}

// outOfError takes the readings' own error out of the slope. A freeway space is the
// difference of two values, each the mean of its readings, so that its error variance is
// the sum of theirs. What the slope was thinned by is the reliability among dentures alike
// in stratum and band.
func (f *doseFit) outOfError(r *readings) error {
	d := f.told
	if d.AsRead = asRead(d.Exposure); d.AsRead != "" {
		return nil
	}
	rest, closed := r.by["vdr"], r.by["vdo"]
	if rest.df < doseRepeats || closed.df < doseRepeats {
		d.AsRead = "Too few readings of rest and of occlusion were repeated to say how well they are read."
		return nil
	}
	t := f.overTakes(r)
	a, b := rest.squares/float64(rest.df)*t.rest, closed.squares/float64(closed.df)*t.closed
	reading := Reading{ErrorSD: Num(math.Sqrt(a + b)), Takes: Num(t.takes), Repeats: rest.df + closed.df}
	return f.correct(d, reading, a+b, 2*a*a/float64(rest.df)+2*b*b/float64(closed.df))
}

// readings reads the repeated readings of every measure, and how many there are.
func (q *asker) readings(ctx context.Context) (*readings, error) {
	d, err := q.dentures(ctx)
	if err != nil {
		return nil, err
	}
	r := &readings{by: map[string]scatter{}, vdr: slices.Repeat([]uint8{1}, d.n), vdo: slices.Repeat([]uint8{1}, d.n)}
	sums := map[repeated]*scattered{}
	var numbers [3][]int64
	err = q.eachChunk(ctx, "dose_readings", nil, []string{"case_no", "takes", "squares_e4", "measure"}, func(c store.Chunk) (err error) {
		for i := range numbers {
			if numbers[i], err = wholeNumbers(c, i, numbers[i]); err != nil {
				return err
			}
		}
		takes, squares, measures := numbers[1], numbers[2], c.Texts(3)
		for row, no := range numbers[0] {
			of := repeated{measures.At(row), takes[row]}
			s := sums[of]
			if s == nil {
				s = &scattered{}
				sums[repeated{strings.Clone(of.measure), of.takes}] = s // the text is lent
			}
			s.cases, s.squares = s.cases+1, s.squares+squares[row]
			r.take(d, no, of)
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	for _, of := range slices.SortedFunc(maps.Keys(sums), func(a, b repeated) int { return cmp.Compare(a.takes, b.takes) }) {
		s, sum := r.by[of.measure], sums[of]
		s.squares, s.df = s.squares+float64(sum.squares)/1e4/float64(of.takes), s.df+sum.cases*(of.takes-1)
		r.by[of.measure] = s
	}
	return r, nil
}

// repeated is a measure that was read so many times in a case, scattered how many cases there
// are, and their squares as dose_readings has them.
type (
	repeated struct {
		measure string
		takes   int64
	}
	scattered struct{ cases, squares int64 }
)

// take notes of how many readings the values of a case's dentures are the means.
func (r *readings) take(d *dentures, no int64, of repeated) {
	var into []uint8
	switch of.measure {
	case "vdr":
		into = r.vdr
	case "vdo":
		into = r.vdo
	}
	if into == nil || no < 0 {
		return
	}
	for arch := range int64(2) {
		if i := d.row(no + arch); i >= 0 {
			into[i] = uint8(min(of.takes, math.MaxUint8))
		}
	}
}

// taken is the mean over dentures of one over the number of readings of rest and of
// occlusion, and of the number itself.
type taken struct{ rest, closed, takes float64 }

// overTakes sums over the dentures that have a value, by numbers of readings.
func (f *doseFit) overTakes(r *readings) taken {
	var counts [256][256]int64
	for i, k := range f.of {
		if k >= 0 {
			counts[r.vdr[i]][r.vdo[i]]++
		}
	}
	var t taken
	n := 0.0
	for a := range counts {
		for b, c := range counts[a] {
			if c > 0 {
				dentures, a, b := float64(c), float64(a), float64(b)
				n, t.rest, t.closed, t.takes = n+dentures, t.rest+dentures/a, t.closed+dentures/b, t.takes+dentures*(a+b)/2
			}
		}
	}
	return taken{t.rest / n, t.closed / n, t.takes / n}
}

// asRead says why a quantity's slope cannot be corrected, "" where it can.
func asRead(exposure string) string {
	switch exposure {
	case "freeway_mm":
		return ""
	case "display_off_mm":
		return "The suggested display changes in steps with the lip length, so the usual correction for reading error does not hold."
	}
	return "The space in the tray is never read twice, so its reading error is not known."
}

// correct divides the slope by the reliability: one less the error variance over the
// variance of the value given stratum and band, both weighted as the model weights.
func (f *doseFit) correct(d *Dose, r Reading, errorVariance, ofError float64) error {
	spread := 1 / f.line.Inverse.At(0, 0) / f.line.Events
	r.SpreadSD = Num(math.Sqrt(spread))
	share := errorVariance / spread
	rel := stats.Reliability{Value: 1 - share, Between: spread - errorVariance, Within: errorVariance,
		SE: share * math.Sqrt(ofError/(errorVariance*errorVariance)+2/float64(f.n))}
	if errorVariance == 0 {
		d.AsRead = "All repeated readings agree exactly, which points to copies: no error can be told from them."
		return nil
	}
	half := stats.TwoSidedZ(f.level) * rel.SE
	r.Reliability = Estimate{Value: Num(rel.Value), Low: Num(rel.Value - half), High: Num(math.Min(1, rel.Value+half)), Level: f.level, N: f.n, Events: r.Repeats,
		Unit: "share", Method: "one less the variance of a value’s error over its variance within clinician, arch and band", Query: "dose_readings"}
	d.Reading = &r
	c, err := stats.CalibrateSlope(f.line.Coef[0], f.lineVariance(), rel, f.level)
	if errors.Is(err, stats.ErrNoAnswer) || err == nil && rel.Value < 2*rel.SE {
		d.AsRead = "The values differ by little more than their reading error, so the correction would be a guess."
		return nil
	}
	if err != nil {
		return err
	}
	d.Corrected.Value, d.Corrected.Low, d.Corrected.High = Num(math.Exp(c.Slope)), Num(math.Exp(c.Limits.Low)), Num(math.Exp(c.Limits.High))
	for _, w := range c.Warnings {
		d.AsRead = w.Text
	}
	return nil
}
