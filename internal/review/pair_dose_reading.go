package review

import (
	"context"
	"database/sql"
	"errors"
	"math"

	"afterfit/internal/stats"
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
	r := &readings{by: map[string]scatter{}, vdr: make([]uint8, d.n), vdo: make([]uint8, d.n)}
	for i := range d.n {
		r.vdr[i], r.vdo[i] = 1, 1
	}
	err = q.eachWord(ctx, "dose_takes", nil, []string{"takes"}, func(rows [][]int64) {
		for _, w := range rows[0] {
			for arch := range int64(2) {
				if i := d.row(w>>16 + arch); i >= 0 {
					r.vdr[i], r.vdo[i] = uint8(max(1, w>>8&255)), uint8(max(1, w&255))
				}
			}
		}
	})
	if err != nil {
		return nil, err
	}
	return r, q.each(ctx, "dose_readings", func(rows *sql.Rows) error {
		var measure string
		var takes, cases, squares int64
		err := rows.Scan(&measure, &takes, &cases, &squares)
		s := r.by[measure]
		s.squares, s.df = s.squares+float64(squares)/1e4/float64(takes), s.df+cases*(takes-1)
		r.by[measure] = s
		return err
	})
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
