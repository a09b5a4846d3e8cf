package review

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"afterfit/internal/stats"
)

// The case mix is called poor at telling dentures apart below this concordance, and
// its predictions too extreme or too tame outside these slopes, if the interval leaves
// out 1 as well. House values without a source.
const (
	poorConcordance    = 0.55
	lowSlope, topSlope = 0.8, 1.2
)

// predicted is a cell with the rate predicted for it.
type predicted struct {
	mixCell
	rate float64
}

// check says how well a model predicts: cells with the rates predicted for them, by
// fold, or the same rates for every fold where folds is one slice.
func (q *asker) checkMix(fit *MixFit, cells []mixCell, folds [][]float64) error {
	rows := predictions(cells, folds)
	var observed, n int64
	expected := 0.0
	for _, r := range rows {
		observed, n = observed+r.y*r.n, n+r.n
		expected += r.rate * float64(r.share) / 1e9
	}
	var err error
	phi := float64(fit.Model.Dispersion)
	fit.Large, err = q.mixRatio(observed, expected, phi, n, "mix_patterns")
	if err != nil {
		return err
	}
	if fit.Tenths, err = q.tenths(rows, phi); err != nil {
		return err
	}
	fit.Slope = q.slope(rows, phi, n)
	fit.Concordance = Num(concordance(rows))
	fit.Warnings = mixWarnings(fit)
	return nil
}

// predictions gives every cell its rate and sorts by it.
func predictions(cells []mixCell, folds [][]float64) []predicted {
	rows := make([]predicted, len(cells))
	for i, c := range cells {
		rows[i] = predicted{c, folds[c.fold%len(folds)][c.pattern]}
	}
	slices.SortStableFunc(rows, func(a, b predicted) int { return cmp.Compare(a.rate, b.rate) })
	return rows
}

func mixWarnings(f *MixFit) []string {
	out := []string{}
	if f.Concordance.Known() && f.Concordance < poorConcordance {
		out = append(out, fmt.Sprintf("The recorded case mix hardly tells dentures with more events from those with fewer (concordance %.2f, 0.5 is a coin): standing beside it takes out little, and differences in case mix that nobody recorded remain.", float64(f.Concordance)))
	}
	if s := f.Slope; s.Value.Known() && (s.Value < lowSlope || s.Value > topSlope) && (s.Low > 1 || s.High < 1) {
		text := "A plain fit sees more differences between easy and hard cases than hold up in patients that it has not seen (slope %.2f, 1 is right); its coefficients are pulled in by that factor."
		if f.Saved {
			text = "The saved standard's predictions are off in their spread (slope %.2f, 1 is right): easy cases and hard ones are not told apart as they should be."
		}
		out = append(out, fmt.Sprintf(text, float64(s.Value)))
	}
	if l := f.Large; f.Saved && (l.Low > 1 || l.High < 1) {
		out = append(out, fmt.Sprintf("Taken together there are %.2f times as many events as the saved standard expects: a shift of the whole service, which every unit shares.", float64(l.Value)))
	}
	return out
}

const ratioMethod = "observed over expected, exact Poisson limits (Garwood 1936) with both counts divided by the dispersion of patients’ events"

// mixRatio is observed over expected with limits that allow for the dispersion.
func (q *asker) mixRatio(observed int64, expected, phi float64, n int64, query string) (Estimate, error) {
	e := Estimate{Value: Num(math.NaN()), Low: Num(math.NaN()), High: Num(math.NaN()), Level: q.s.Level, N: n, Events: observed, Unit: "times expected", Method: ratioMethod, Query: query}
	if expected <= 0 {
		return e, nil
	}
	units, err := stats.Disperse([]stats.UnitCount{{Observed: float64(observed), Expected: expected}}, math.Max(1, phi))
	if err != nil {
		return e, err
	}
	r, err := stats.IndirectRatios(units, q.s.Level)
	if err != nil {
		return e, err
	}
	e.Value, e.Low, e.High = Num(r[0].Ratio), Num(r[0].Limits.Low), Num(r[0].Limits.High)
	e.Warnings = cautions(stats.PoissonExactWarnings(observed))
	return e, nil
}

// tenths splits rows in order of rate at tenths of the dentures. A cell stays whole,
// so that tenths may differ somewhat in size.
func (q *asker) tenths(rows []predicted, phi float64) ([]MixTenth, error) {
	var all int64
	for _, r := range rows {
		all += r.n
	}
	out := []MixTenth{}
	var n, seen, observed int64
	var expected float64
	for i, r := range rows {
		n, seen, observed, expected = n+r.n, seen+r.n, observed+r.y*r.n, expected+r.rate*float64(r.share)/1e9
		if next := i + 1; next < len(rows) && (10*seen < all*int64(len(out)+1) || rows[next].rate == r.rate) {
			continue
		}
		e, err := q.mixRatio(observed, expected, phi, n, "mix_patterns")
		if err != nil {
			return nil, err
		}
		out = append(out, MixTenth{Tenth: len(out) + 1, Expected: Num(expected), Ratio: e})
		n, observed, expected = 0, 0, 0
	}
	return out, nil
}

// slope is the coefficient of log expected in a Poisson model of the events, its
// standard error widened by the dispersion.
func (q *asker) slope(rows []predicted, phi float64, n int64) Estimate {
	e := Estimate{Value: Num(math.NaN()), Low: Num(math.NaN()), High: Num(math.NaN()), Level: q.s.Level, N: n, Unit: "slope", Query: "mix_patterns",
		Method: "Poisson regression of events on log expected, standard error widened by the dispersion"}
	data := stats.Patterns{Names: []string{"intercept", "log expected"}}
	for _, r := range rows {
		data.X = append(data.X, 1, math.Log(r.rate))
		data.Y = append(data.Y, float64(r.y))
		data.Offset = append(data.Offset, math.Log(float64(r.share)/1e9/float64(r.n)))
		data.Weight = append(data.Weight, float64(r.n))
		e.Events += r.y * r.n
	}
	fit, err := stats.FitGLM(stats.Poisson, data)
	if err != nil || len(fit.Aliased) > 0 || len(fit.Separated) > 0 {
		return e // one rate for all: nothing to be steep about
	}
	se := math.Sqrt(math.Max(1, phi) * fit.ModelCovariance().Matrix.At(1, 1))
	half := stats.TwoSidedZ(q.s.Level) * se
	e.Value, e.Low, e.High = Num(fit.Coef[1]), Num(fit.Coef[1]-half), Num(fit.Coef[1]+half)
	return e
}

// concordance is the chance that of two dentures with different numbers of events the
// one with more had the higher rate predicted, equal rates counting half; among
// dentures followed to the end of the window. NaN without such a pair.
func concordance(rows []predicted) float64 {
	below, pairs, right := map[int64]float64{}, 0.0, 0.0
	total := map[int64]float64{}
	for i := 0; i < len(rows); {
		here := map[int64]float64{}
		j := i
		for ; j < len(rows) && rows[j].rate == rows[i].rate; j++ {
			if rows[j].whole {
				here[rows[j].y] += float64(rows[j].n)
			}
		}
		for y, n := range here {
			for other, m := range below {
				if other < y {
					right += n * m
				}
			}
			for other, m := range here {
				if other < y {
					right += n * m / 2
				}
			}
		}
		for y, n := range here {
			below[y] += n
			total[y] += n
		}
		i = j
	}
	for y, n := range total {
		for other, m := range total {
			if other < y {
				pairs += n * m
			}
		}
	}
	if pairs == 0 {
		return math.NaN()
	}
	return right / pairs
}
