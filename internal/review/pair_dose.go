package review

import (
	"context"
	"fmt"
	"math"
	"slices"

	"afterfit/internal/habit"
	"afterfit/internal/stats"
)

const (
	doseMethod      = "Poisson regression within clinician and arch on a restricted cubic spline and bands of expected trouble, limits robust for patients with several dentures"
	slopeMethod     = "the same with a straight line in place of the spline"
	correctedMethod = "the straight line’s slope on the log scale over the reliability of the readings (regression calibration)"
	doseBands       = 10  // bands of expected trouble at most
	doseBandEvents  = 20  // events that a band should hold on average
	doseBandN       = 100 // and dentures
	doseEvents      = 30  // events that a curve needs: ten for each of its three terms, a rule of thumb
)

// doseCount counts the dentures with one value, or with none (known is false).
type doseCount struct {
	e2, n, y int64 // the value in hundredths of a mm
	known    bool
}

func (v doseCount) mm() float64 { return float64(v.e2) / 100 }

// doses answers every hypothesis about a quantity, in the catalogue's order.
func (q *asker) doses(ctx context.Context) ([]Dose, error) {
	r, err := q.readings(ctx)
	if err != nil {
		return nil, err
	}
	return q.dosesRead(ctx, r)
}

// dosesRead is doses, with the readings at hand; it asks no statement.
func (q *asker) dosesRead(ctx context.Context, r *readings) ([]Dose, error) {
	var hypotheses []habit.Hypothesis
	for _, h := range habit.Hypotheses {
		if h.Kind == habit.OfQuantity {
			hypotheses = append(hypotheses, h)
		}
	}
	all, err := q.dentures(ctx)
	if err != nil {
		return nil, err
	}
	out, fits := make([]Dose, len(hypotheses)), make([]*doseFit, len(hypotheses))
	for i, h := range hypotheses {
		days, _, ok := q.pairWindow(h.Outcome)
		if !ok {
			return nil, fmt.Errorf("outcome %s has no window", h.Outcome)
		}
		out[i] = doseOf(h, days, q.s)
		fits[i] = newDoseFit(&out[i], h.Columns(), q.s.Level)
	}
	basis := newPairBasis(all, 0)
	step := q.steps("curves over measurements", len(fits))
	err = sideBySide(ctx, shareSets(fits), func(f *doseFit) error {
		defer step()
		if err := f.answer(basis, r); err != nil {
			return fmt.Errorf("%s: %w", f.told.ID, err)
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	return out, rankDoses(out)
}

// doseOf is the answer before anything was asked.
func doseOf(h habit.Hypothesis, days int, s Settings) Dose {
	nan := Num(math.NaN())
	d := Dose{ID: h.ID, Exposure: h.Column(), Outcome: h.Outcome, Days: days, Direction: string(h.Direction), Stated: h.Stated, Control: h.Control,
		Knots: []Num{}, Curve: []DosePoint{}, At: []DosePoint{}, Values: []DoseValue{}, Adjusted: []string{},
		Flat: nan, Q: nan, Bent: nan, Level: s.Level, Method: doseMethod, Query: "denture_words"}
	low, high := s.usual(h.Column())
	d.Usual, d.Reference = [2]Num{Num(low), Num(high)}, Num((low+high)/2)
	d.Slope = noNumber(s.Level, "times for each mm", slopeMethod, "denture_words")
	d.Corrected = noNumber(s.Level, "times for each mm", correctedMethod, "dose_readings")
	return d
}

// usual is a quantity's usual range in mm: for a distance from what the lip suggests, as
// far as does not count as far.
func (s Settings) usual(column string) (low, high float64) {
	switch column {
	case "freeway_mm":
		return s.FreewayLowMM, s.FreewayHighMM
	case "clearance_max_mm":
		return s.ClearanceLowMM, s.ClearanceHighMM
	}
	return -s.DisplayFarMM, s.DisplayFarMM
}

// answer works one curve out.
func (f *doseFit) answer(b *pairBasis, r *readings) error {
	defer f.set.done()
	d := f.told
	if err := f.set.number(b); err != nil {
		return err
	}
	f.countValues(b)
	if f.knots = f.chooseKnots(); d.Events < doseEvents || len(f.knots) < 3 {
		d.tooFew(len(f.knots))
		return nil
	}
	if err := f.cutBands(b); err != nil {
		return err
	}
	f.countCells(b)
	settled, err := f.fit()
	d.N, d.Events, d.LeftOut, d.Strata = f.n, f.y, f.leftOut, f.compared
	if err != nil || !settled || f.y < doseEvents {
		d.tooFew(len(f.knots))
		return err
	}
	f.sumSquares(b)
	if err := f.tell(d); err != nil {
		return err
	}
	return f.outOfError(r)
}

// tooFew says why there is no curve and what would mend it.
func (d *Dose) tooFew(knots int) {
	switch {
	case d.N == 0:
		d.TooFew = "Too few to tell: nothing to compare within clinicians."
	case d.Events < doseEvents && d.Events > 0:
		d.More = int64(math.Ceil(float64(doseEvents-d.Events) * float64(d.N) / float64(d.Events)))
		d.TooFew = fmt.Sprintf("Too few to tell: %d events in %d dentures with a recorded value; a curve needs %d, which about %d more dentures would bring.", d.Events, d.N, doseEvents, d.More)
	case d.Events < doseEvents:
		d.TooFew = fmt.Sprintf("Too few to tell: no event in %d dentures with a recorded value; a curve needs %d.", d.N, doseEvents)
	case knots < 3:
		d.TooFew = fmt.Sprintf("Too few to tell: nearly all of the %d dentures have one of two values, and a curve needs three or more.", d.N)
	default:
		d.TooFew = fmt.Sprintf("Too few to tell: the %d events in %d dentures cannot be told apart by value within clinicians.", d.Events, d.N)
	}
	d.Slope.TooFew, d.Corrected.TooFew = d.TooFew, d.TooFew
}

// chooseKnots are Harrell's four places, or three (10, 50 and 90 %) where readings are
// so heaped that two of the four coincide; fewer than three where even these do.
func (f *doseFit) chooseKnots() []float64 {
	var x, w []float64
	for _, v := range f.values {
		x, w = append(x, v.mm()), append(w, float64(v.n))
	}
	var knots []float64
	for _, places := range [][]float64{stats.SplineProbabilities, {0.1, 0.5, 0.9}} {
		all, err := stats.SplineKnots(x, w, places)
		if err != nil {
			return nil
		}
		if knots = slices.Compact(all); len(knots) == len(places) {
			break
		}
	}
	return knots
}

// rankDoses gives the q-values over all curves that are no controls.
func rankDoses(doses []Dose) error {
	var p []float64
	var of []int
	for i, d := range doses {
		if !d.Control && d.Flat.Known() {
			p, of = append(p, float64(d.Flat)), append(of, i)
		}
	}
	adjusted, err := stats.BenjaminiHochberg(p)
	if err != nil {
		return err
	}
	for k, i := range of {
		doses[i].Q = Num(adjusted[k])
	}
	return nil
}
