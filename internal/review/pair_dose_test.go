package review

import (
	"context"
	"encoding/json"
	"math"
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"

	"afterfit/internal/habit"
	"afterfit/internal/stats"
)

// referenceDose is one answer of testdata/reference/dose_within.json (R 4.2.2, rms 6.5-0,
// sandwich 3.0-2): Poisson regressions on the rows of the clean bundle.
type referenceDose struct {
	Knots, Coef         []float64
	Robust, Model       [][]float64
	Bands, Strata       int
	N, Events, Patients int64
	Line                float64
	LineRobust          float64 `json:"line_robust"`
	LineModel           float64 `json:"line_model"`
	Rate2, Rate3        float64
	Flat, Bent          float64
	Error, Spread       float64
	OverTakes           float64 `json:"over_takes"`
}

// asked is an asker on a store of these bundles.
func asked(t *testing.T, files ...string) *asker {
	t.Helper()
	q, err := newAsker(context.Background(), loaded(t, 0, files...), DefaultSettings())
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, q.c.Close()) })
	return q
}

// fittedDose goes the whole way for one quantity with the columns given.
func fittedDose(t *testing.T, q *asker, value, outcome string, columns []string) (*doseFit, Dose) {
	t.Helper()
	ctx := context.Background()
	d := doseOf(habit.Hypothesis{Exposure: value, Kind: habit.OfQuantity}, 90, q.s)
	d.Outcome = outcome
	all, err := q.dentures(ctx)
	require.NoError(t, err)
	basis, f := newPairBasis(all, 0), newDoseFit(&d, columns, q.s.Level)
	shareSets([]*doseFit{f})
	require.NoError(t, f.set.number(basis))
	f.countValues(basis)
	f.knots = f.chooseKnots()
	require.NoError(t, f.cutBands(basis))
	f.countCells(basis)
	settled, err := f.fit()
	require.NoError(t, err)
	require.True(t, settled)
	f.sumSquares(basis)
	require.NoError(t, f.tell(&d))
	return f, d
}

// TestDosesAgreeWithR compares curve, straight line, covariances and tests, fitted from
// counts by value and cell, with regressions on rows.
func TestDosesAgreeWithR(t *testing.T) {
	raw, err := os.ReadFile("../../testdata/reference/dose_within.json")
	require.NoError(t, err)
	var ref struct {
		Answers map[string]map[string]referenceDose
	}
	require.NoError(t, json.Unmarshal(raw, &ref))
	q := asked(t, clean)
	compared := 0
	for _, outcome := range []string{Adjustments, SoreSpots} {
		for value, answers := range ref.Answers {
			compared++
			what, want := value+", "+outcome, answers[outcome]
			f, d := fittedDose(t, q, value, outcome, []string{"ridge_class", "sex", "prior_denture"})
			assert.InDeltaSlice(t, want.Knots, f.knots, 1e-12, what)
			assert.Equal(t, []int64{want.N, want.Events, want.Patients}, []int64{f.n, f.y, f.patients}, what)
			assert.Equal(t, [2]int{want.Bands, want.Strata}, [2]int{f.bands, f.compared}, what)
			same := func(want, got float64, about string, i ...int) {
				assert.True(t, near(got, want, 1e-6), "%s: %s %v is %.10g, R has %.10g", what, about, i, got, want)
			}
			for i := range want.Coef {
				same(want.Coef[i], f.curve.Coef[i], "term", i)
				for j := range want.Coef {
					same(want.Robust[i][j], f.robust.At(i, j), "robust covariance", i, j)
					same(want.Model[i][j], f.curve.Inverse.At(i, j), "model covariance", i, j)
				}
			}
			same(want.Line, f.line.Coef[0], "straight line")
			same(want.LineRobust, f.lineRobust, "robust variance of the line")
			same(want.LineModel, f.line.Inverse.At(0, 0), "model variance of the line")
			same(want.Flat, float64(d.Flat), "P of a level curve")
			same(want.Bent, float64(d.Bent), "P of a straight one")
			same(want.Rate2, rateAt(t, d, 2), "events at 2 mm")
			same(want.Rate3, rateAt(t, d, 3), "events at 3 mm")
			if want.Error > 0 {
				r, err := q.readings(context.Background())
				require.NoError(t, err)
				over := f.overTakes(r)
				same(want.Error, r.by["vdo"].squares/float64(r.by["vdo"].df), "error variance of a reading")
				same(want.OverTakes, over.closed, "one over readings")
				same(want.Spread, 1/f.line.Inverse.At(0, 0)/f.line.Events, "variance within stratum and band")
			}
		}
	}
	assert.Equal(t, 4, compared)
}

func rateAt(t *testing.T, d Dose, mm float64) float64 {
	t.Helper()
	for _, p := range d.At {
		if float64(p.MM) == mm {
			return float64(p.Rate)
		}
	}
	require.FailNow(t, "no such value", "%v", mm)
	return math.NaN()
}

// Forty events of 250 dentures make two bands. In the order of expected trouble the mixes
// have 8, 8, 8 and 16 events, whose middles lie at 4, 12, 20 and 32 of 40: the third is
// the first that is not below half.
func TestDoseBandsByHand(t *testing.T) {
	f := &doseFit{}
	patterns := []dosePattern{{mix: 1, n: 100, y: 16}, {mix: 2, n: 100, y: 8}, {mix: 3, n: 20, y: 8}, {mix: 4, n: 30, y: 8}}
	f.cut([]float64{4, 1, 2, 3}, patterns)
	assert.Equal(t, 2, f.bands)
	assert.Equal(t, []int{1, 0, 0, 1}, f.band)

	patterns[2].y, patterns[1].y = 0, 16
	f.cut([]float64{4, 1, 2, 3}, patterns)
	assert.Equal(t, []int{1, 0, 0, 1}, f.band, "a mix without events stays with its neighbour")
	f.cut([]float64{2, 2, 2, 2}, patterns)
	assert.Equal(t, 1, f.bands, "mixes that are alike are not torn apart")
}

// Knots by hand: 101 dentures at 0, 1, ..., 100 hundredths have their quantiles at 5, 35,
// 65 and 95; heaped on three values the four places coincide, and three are left.
func TestDoseKnotsByHand(t *testing.T) {
	f := &doseFit{}
	for i := range int64(101) {
		f.values = append(f.values, doseCount{e2: i, n: 1, known: true})
	}
	assert.InDeltaSlice(t, []float64{0.05, 0.35, 0.65, 0.95}, f.chooseKnots(), 1e-12)
	f.values = []doseCount{{e2: 100, n: 30}, {e2: 200, n: 50}, {e2: 300, n: 20}}
	assert.Equal(t, []float64{1, 2, 3}, f.chooseKnots())
	f.values = []doseCount{{e2: 100, n: 30}, {e2: 200, n: 70}}
	assert.Len(t, f.chooseKnots(), 2)
}

// TestTooFewForADose tells how many more would do: 12 events in 40 dentures are 18 short
// of 30, which 60 more dentures bring.
func TestTooFewForADose(t *testing.T) {
	for want, d := range map[string]Dose{
		"a curve needs 30, which about 60 more dentures would bring": {N: 40, Events: 12},
		"no event in 40 dentures":                                    {N: 40},
		"nothing to compare":                                         {},
		"nearly all of the 400 dentures have one of two values":      {N: 400, Events: 300},
	} {
		d.tooFew(2)
		assert.Contains(t, d.TooFew, want)
		assert.Equal(t, d.TooFew, d.Slope.TooFew)
	}
	d := Dose{N: 400, Events: 300}
	d.tooFew(4)
	assert.Contains(t, d.TooFew, "cannot be told apart")
}

// handLine is a straight line with the slope given, from events on values with the
// variance given within strata.
func handLine(slope, variance, events float64) *doseFit {
	inverse := mat.NewSymDense(1, []float64{1 / (variance * events)})
	return &doseFit{level: 0.95, n: 1e9, line: &stats.StratifiedPoisson{Coef: []float64{slope}, Inverse: inverse, Events: events}}
}

// TestCorrectionByHand: readings with error variance 0.25 on values with variance 1
// within strata leave a reliability of 0.75, so a slope of 0.3 becomes 0.4.
func TestCorrectionByHand(t *testing.T) {
	f, d := handLine(0.3, 1, 100), Dose{}
	require.NoError(t, f.correct(&d, Reading{}, 0.25, 0))
	assert.InDelta(t, math.Exp(0.4), float64(d.Corrected.Value), 1e-12)
	assert.InDelta(t, 0.75, float64(d.Reading.Reliability.Value), 1e-12)
	assert.Empty(t, d.AsRead)

	d = Dose{}
	require.NoError(t, f.correct(&d, Reading{}, 1.2, 0))
	assert.Contains(t, d.AsRead, "little more than their reading error")
	assert.Zero(t, d.Corrected.Value)

	d = Dose{}
	require.NoError(t, f.correct(&d, Reading{}, 0, 0))
	assert.Contains(t, d.AsRead, "copies")
	assert.Nil(t, d.Reading)
	for _, exposure := range []string{"clearance_max_mm", "display_off_mm"} {
		assert.NotEmpty(t, asRead(exposure), exposure)
	}
	assert.Empty(t, asRead("freeway_mm"))
}
