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

// doseReading takes the readings' own error out of the slope. A freeway space is
// the difference of two values, each the mean of its readings, so that its error
// variance is the sum of theirs. What the slope was thinned by is the reliability among
// dentures alike in stratum and band.
func (q *asker) doseReading(ctx context.Context, d *Dose, f *doseFit, by map[string]scatter) error {
	if d.AsRead = asRead(d.Exposure); d.AsRead != "" {
		return nil
	}
	rest, closed := by["vdr"], by["vdo"]
	if rest.df < doseRepeats || closed.df < doseRepeats {
		d.AsRead = "Too few readings of rest and of occlusion were repeated to say how well they are read."
		return nil
	}
	t, err := q.overTakes(ctx)
	if err != nil {
		return err
	}
	a, b := rest.squares/float64(rest.df)*t.rest, closed.squares/float64(closed.df)*t.closed
	r := Reading{ErrorSD: Num(math.Sqrt(a + b)), Takes: Num(t.takes), Repeats: rest.df + closed.df}
	return f.correct(d, r, a+b, 2*a*a/float64(rest.df)+2*b*b/float64(closed.df))
}

// scatters are the repeated readings of every measure; it leaves dose_taken.
func (q *asker) scatters(ctx context.Context) (map[string]scatter, error) {
	by := map[string]scatter{}
	if err := q.exec(ctx, "dose_taken"); err != nil {
		return nil, err
	}
	return by, q.each(ctx, "dose_readings", func(rows *sql.Rows) error {
		var measure string
		var takes, cases, squares int64
		err := rows.Scan(&measure, &takes, &cases, &squares)
		s := by[measure]
		s.squares, s.df = s.squares+float64(squares)/1e4/float64(takes), s.df+cases*(takes-1)
		by[measure] = s
		return err
	})
}

// taken is the mean over dentures of one over the number of readings of rest and of
// occlusion, and of the number itself.
type taken struct{ rest, closed, takes float64 }

func (q *asker) overTakes(ctx context.Context) (taken, error) {
	var t taken
	n := 0.0
	err := q.each(ctx, "dose_takes", func(rows *sql.Rows) error {
		var a, b, dentures float64
		err := rows.Scan(&a, &b, &dentures)
		n, t.rest, t.closed, t.takes = n+dentures, t.rest+dentures/a, t.closed+dentures/b, t.takes+dentures*(a+b)/2
		return err
	})
	return taken{t.rest / n, t.closed / n, t.takes / n}, err
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
