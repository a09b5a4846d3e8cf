package review

import (
	"context"
	"database/sql"
	"fmt"
	"math"
	"slices"

	"afterfit/internal/habit"
	"afterfit/internal/stats"
	"afterfit/queries"
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

// doses answers every hypothesis about a quantity, in the catalogue's order, those with
// one outcome in a row.
func (q *asker) doses(ctx context.Context) ([]Dose, error) {
	var hypotheses []habit.Hypothesis
	for _, h := range habit.Hypotheses {
		if h.Kind == habit.OfQuantity {
			hypotheses = append(hypotheses, h)
		}
	}
	scatters, err := q.scatters(ctx)
	if err != nil {
		return nil, err
	}
	values, sets := make([]string, len(hypotheses)), make([][]string, len(hypotheses))
	for i, h := range hypotheses {
		values[i], sets[i] = h.Column(), h.Columns()
	}
	basis, err := q.layOutDoses(ctx, values, sets)
	if err != nil {
		return nil, err
	}
	out, done := make([]Dose, len(hypotheses)), map[string]bool{}
	for i, first := range hypotheses {
		if done[first.Outcome] {
			continue
		}
		done[first.Outcome] = true
		q.atStep("curves over measurements", i, len(hypotheses))
		days, _, ok := q.pairWindow(first.Outcome)
		if !ok {
			return nil, fmt.Errorf("outcome %s has no window", first.Outcome)
		}
		if err := q.outcomeRows(ctx, first.Outcome); err != nil {
			return nil, err
		}
		for i, h := range hypotheses {
			if h.Outcome != first.Outcome {
				continue
			}
			out[i] = doseOf(h, days, q.s)
			if err := q.dose(ctx, &out[i], h.Columns(), basis, scatters); err != nil {
				return nil, fmt.Errorf("%s: %w", h.ID, err)
			}
		}
	}
	return out, rankDoses(out)
}

// doseOf is the answer before anything was asked.
func doseOf(h habit.Hypothesis, days int, s Settings) Dose {
	nan := Num(math.NaN())
	d := Dose{ID: h.ID, Exposure: h.Column(), Outcome: h.Outcome, Days: days, Direction: string(h.Direction), Stated: h.Stated, Control: h.Control,
		Knots: []Num{}, Curve: []DosePoint{}, At: []DosePoint{}, Values: []DoseValue{}, Adjusted: []string{},
		Flat: nan, Q: nan, Bent: nan, Level: s.Level, Method: doseMethod, Query: "dose_cells"}
	low, high := s.usual(h.Column())
	d.Usual, d.Reference = [2]Num{Num(low), Num(high)}, Num((low+high)/2)
	d.Slope = noNumber(s.Level, "times for each mm", slopeMethod, "dose_squares")
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

// dose asks the store for one curve; outcome_rows must hold its outcome.
func (q *asker) dose(ctx context.Context, d *Dose, columns []string, basis *doseBasis, scatters map[string]scatter) error {
	d.Asked = notNil(columns)
	f := &doseFit{doseSet: basis.set(columns), level: q.s.Level}
	if err := q.execFilled(ctx, "dose_rows", doseView{queries.NameOf(d.Exposure), f.Name, queries.NameOf(d.Outcome)}); err != nil {
		return err
	}
	if err := q.doseValues(ctx, d, f); err != nil {
		return err
	}
	if f.knots = f.chooseKnots(); d.Events < doseEvents || len(f.knots) < 3 {
		d.tooFew(len(f.knots))
		return nil
	}
	if err := q.doseBands(ctx, d, f); err != nil {
		return err
	}
	if err := q.doseCells(ctx, f); err != nil {
		return err
	}
	settled, err := f.fit()
	d.N, d.Events, d.LeftOut, d.Strata = f.n, f.y, f.leftOut, f.compared
	if err != nil || !settled || f.y < doseEvents {
		d.tooFew(len(f.knots))
		return err
	}
	if err := q.doseSquares(ctx, d, f); err != nil {
		return err
	}
	if err := f.tell(d); err != nil {
		return err
	}
	return q.doseReading(ctx, d, f, scatters)
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

// doseSet is a set of columns of case mix that curves adjust for.
type doseSet struct {
	columns []string
	Name    queries.Name // of the column with the key of a denture's combination
	Columns []queries.Name
	mixes   coding
	keys    []string       // of the mixes, as statements know them
	number  map[string]int // of a mix by its key, from 1
}

// doseLayout fills dose_dentures.
type doseLayout struct {
	Values []queries.Name
	Sets   []*doseSet
}

// doseView fills dose_rows.
type doseView struct{ Value, Set, Outcome queries.Name }

// doseBasis is what the curves rest on: dose_dentures holds the dentures with these sets.
type doseBasis struct{ sets []*doseSet }

// set finds the set of these columns; nothing to adjust for leaves the arch, which every
// curve keeps apart anyway.
func (b *doseBasis) set(columns []string) *doseSet {
	if len(columns) == 0 {
		columns = []string{"arch"}
	}
	for _, s := range b.sets {
		if slices.Equal(s.columns, columns) {
			return s
		}
	}
	s := &doseSet{columns: columns, Name: queries.NameOf(fmt.Sprintf("key_%d", len(b.sets))), number: map[string]int{}}
	for _, c := range columns {
		s.Columns = append(s.Columns, queries.NameOf(c))
	}
	b.sets = append(b.sets, s)
	return s
}

// layOutDoses numbers the combinations of every set of columns, once for all curves of
// these values, and leaves dose_dentures.
func (q *asker) layOutDoses(ctx context.Context, values []string, sets [][]string) (*doseBasis, error) {
	if err := q.outcomeSheet(ctx); err != nil {
		return nil, err
	}
	basis, layout := &doseBasis{}, doseLayout{}
	for _, columns := range sets {
		basis.set(columns)
	}
	for _, v := range values {
		if name := queries.NameOf(v); !slices.Contains(layout.Values, name) {
			layout.Values = append(layout.Values, name)
		}
	}
	layout.Sets = basis.sets
	for _, s := range basis.sets {
		if err := q.doseMixes(ctx, s); err != nil {
			return nil, err
		}
	}
	return basis, q.execFilled(ctx, "dose_dentures", layout)
}

// doseMixes numbers the combinations of a set's columns from 1.
func (q *asker) doseMixes(ctx context.Context, s *doseSet) error {
	var out [][]string
	err := q.eachFilled(ctx, "dose_mixes", s.Columns, func(rows *sql.Rows) error {
		var key string
		values := make([]sql.NullString, len(s.columns))
		into := []any{&key}
		for i := range values {
			into = append(into, &values[i])
		}
		if err := rows.Scan(into...); err != nil {
			return err
		}
		levels := make([]string, len(values))
		for i, v := range values {
			levels[i] = v.String // "" is a level of its own: not recorded
		}
		out = append(out, levels)
		s.keys = append(s.keys, key)
		s.number[key] = len(out)
		return nil
	})
	s.mixes = encodeLevels(out, len(s.columns))
	return err
}

// doseValues reads every value with its counts.
func (q *asker) doseValues(ctx context.Context, d *Dose, f *doseFit) error {
	return q.each(ctx, "dose_values", func(rows *sql.Rows) error {
		var value sql.NullInt64
		var v doseCount
		if err := rows.Scan(&value, &v.n, &v.y); err != nil {
			return err
		}
		if !value.Valid {
			d.Missing = v.n
			return nil
		}
		v.e2, v.known = value.Int64, true
		f.values = append(f.values, v)
		d.Values = append(d.Values, DoseValue{Num(v.mm()), v.n, v.y})
		d.N, d.Events = d.N+v.n, d.Events+v.y
		return nil
	})
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
