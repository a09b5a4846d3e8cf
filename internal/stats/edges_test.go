package stats

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// 0 times the ratio of two extreme exposures is no number; a limit must be one.
func TestRateRatioAtExtremeExposures(t *testing.T) {
	iv, err := RateRatioExact(0, 1e-300, 5, 1e300, 0.95)
	require.NoError(t, err)
	require.Equal(t, 0.0, iv.Low)
	require.True(t, math.IsInf(iv.High, 1))
	iv, err = RateRatioExact(0, 1e300, 5, 1e-300, 0.95)
	require.NoError(t, err)
	require.Equal(t, 0.0, iv.Low)
	require.False(t, math.IsNaN(iv.High))
}

func TestWilsonEndsAreExact(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.Int64Range(1, 1e12).Draw(t, "n")
		level := rapid.Float64Range(0.01, 0.9999).Draw(t, "level")
		all, err := Wilson(n, n, level)
		none, err2 := Wilson(0, n, level)
		// Where n is large 1 - High has lost the digits that Low still has.
		if err != nil || err2 != nil || all.High != 1 || none.Low != 0 || !almost(1-none.High, all.Low, 1e-9) {
			t.Fatalf("%d at %g: %v %v", n, level, all, none)
		}
	})
}

func TestIntervalWarningsSpeakWhereCountsAreFew(t *testing.T) {
	for _, k := range [][2]int64{{9, 100}, {91, 100}, {12, 29}, {0, 50}, {0, 0}} {
		require.Equal(t, "few-events", WilsonWarnings(k[0], k[1])[0].Code, "%v", k)
	}
	require.Empty(t, WilsonWarnings(10, 30))
	for _, k := range [][2]int64{{24, 400}, {376, 400}, {40, 99}} {
		require.Equal(t, "few-events", ClopperPearsonWarnings(k[0], k[1])[0].Code, "%v", k)
	}
	require.Empty(t, ClopperPearsonWarnings(25, 100))
	require.Equal(t, "few-events", PoissonExactWarnings(24)[0].Code)
	require.Empty(t, PoissonExactWarnings(25))
	require.Empty(t, NewcombeWarnings(5, 10, 20, 40))
	for _, k := range [][4]int64{{4, 10, 20, 40}, {6, 10, 20, 40}, {5, 10, 4, 40}, {5, 10, 36, 40}, {0, 10, 20, 40}} {
		w := NewcombeWarnings(k[0], k[1], k[2], k[3])
		require.Equal(t, k[0] == 5 && k[2] == 20, len(w) == 0, "%v", k)
	}
	require.Empty(t, RateRatioWarnings(12, 12))
	require.Equal(t, "few-events", RateRatioWarnings(11, 400)[0].Code)
	require.Equal(t, "few-events", RateRatioWarnings(400, 0)[0].Code)
}

func TestTwoSidedZOutsideItsDomain(t *testing.T) {
	require.InDelta(t, 1.959963984540054, TwoSidedZ(0.95), 1e-14)
	for _, level := range []float64{-1, 0, 1, 2, math.NaN(), math.Inf(1)} {
		require.True(t, math.IsNaN(TwoSidedZ(level)), "%g", level)
	}
}

func TestQuantileBetweenInfinitiesIsRefused(t *testing.T) {
	ends := []float64{math.Inf(-1), math.Inf(1)}
	_, err := Quantile7(ends, 0.5)
	require.ErrorIs(t, err, ErrBadInput)
	q, err := Quantile7(ends, 1)
	require.NoError(t, err)
	require.True(t, math.IsInf(q, 1))
}

func TestSplineKnotsMustBeFinite(t *testing.T) {
	for _, knots := range [][]float64{{1, 2, math.Inf(1)}, {math.Inf(-1), 2, 3}, {1, math.NaN(), 3}, {-1e308, 0, 1e308, math.Inf(1)}} {
		_, err := SplineBasis(1, knots)
		require.ErrorIs(t, err, ErrBadInput, "%v", knots)
	}
}

// A time that is no number must not read as the beginning.
func TestCurvesAtNoTime(t *testing.T) {
	nan := math.NaN()
	km, err := KaplanMeier([]TimeCount{{1, 2, 3}, {2, 1, 1}})
	require.NoError(t, err)
	p, _ := km.At(nan)
	require.True(t, math.IsNaN(p.Survival) && math.IsNaN(p.Hazard))
	limits, err := p.Limits(0.95, LogLog)
	require.NoError(t, err)
	require.Equal(t, Interval{0, 1}, limits)
	require.Equal(t, []int64{7, 0}, km.AtRisk([]float64{0, nan}))
	rows := []CauseCount{{1, []int64{2, 1}, 3}, {2, []int64{0, 1}, 1}}
	ci, err := CumulativeIncidence(rows)
	require.NoError(t, err)
	q, _ := ci.At(nan)
	require.True(t, math.IsNaN(q.Incidence[0]) && math.IsNaN(q.Incidence[1]))
	limits, err = q.Limits(1, 0.95)
	require.NoError(t, err)
	require.Equal(t, Interval{0, 1}, limits)
	_, err = IncidenceInfluence(rows, 0, nan)
	require.ErrorIs(t, err, ErrBadInput)
	f, err := IncidenceInfluence(rows, 0, 2)
	require.NoError(t, err)
	require.True(t, math.IsNaN(f.Of(nan, 0)))
}

func TestScoreLawRefusesHugeTrueMeans(t *testing.T) {
	_, err := PoissonScoreLaw([]CaseMix{{1e4, 1}}, 2, 1.5)
	require.ErrorIs(t, err, ErrBadInput)
	_, err = PoissonScoreLaw([]CaseMix{{5, 1}}, 2, 1.5)
	require.NoError(t, err)
}

func TestDigitGridBeyondHalfTheRange(t *testing.T) {
	step := int64(1)<<62 + 1
	_, err := DigitPreferenceOf([][]ReadingCount{{{0, 5}}}, DigitGrid{step, step}, DefaultBootstrap)
	require.ErrorIs(t, err, ErrBadInput)
}

func TestChiSquareOfNoNumber(t *testing.T) {
	require.True(t, math.IsNaN(chiSquareTest(math.NaN(), 2).P))
	require.Equal(t, 0.0, chiSquareTest(math.Inf(1), 2).P)
	require.Equal(t, 1.0, chiSquareTest(-1e-12, 2).P)
	// exp(-x/2) with two degrees, far out where 1 - CDF has nothing left.
	require.True(t, relative(chiSquareTest(1200, 2).P, math.Exp(-600), 1e-12))
}

// With c = 0 the events are those of band b alone, so b has no finite estimate; the
// unit of the other column must not decide which columns are named.
func TestSeparationDoesNotDependOnUnits(t *testing.T) {
	for _, unit := range []float64{1, 1e-9, 1e9} {
		d := Patterns{Names: []string{"one", "b", "c"}}
		for i := range 40 {
			b, c := float64(i%2), float64(i%5)
			y := 0.0
			if b == 0 && i%3 == 0 {
				y = 1
			}
			d.X, d.Y = append(d.X, 1, b, unit*c), append(d.Y, y)
		}
		f, err := FitGLM(Logistic, d)
		require.NoError(t, err)
		require.Equal(t, []string{"b"}, f.Separated, "unit %g", unit)
		f, err = FitGLM(Poisson, d)
		require.NoError(t, err)
		require.Equal(t, []string{"b"}, f.Separated, "unit %g", unit)
	}
}

// Separation along two columns at once: an event exactly where a + unit b > 1.5.
func TestSeparationAlongTwoColumnsOfDifferentUnits(t *testing.T) {
	for _, unit := range []float64{1, 1e6} {
		d := Patterns{Names: []string{"one", "a", "b"}}
		for i := range 60 {
			a, b := float64(i%4), float64(i/4%5)
			y := 0.0
			if a+b > 3.5 {
				y = 1
			}
			d.X, d.Y = append(d.X, 1, a, unit*b), append(d.Y, y)
		}
		f, err := FitGLM(Logistic, d)
		require.NoError(t, err)
		require.Equal(t, []string{"one", "a", "b"}, f.Separated, "unit %g", unit)
	}
}

// Two columns of one name: only the one that is a combination is withheld.
func TestColumnsOfOneNameAreKeptApart(t *testing.T) {
	d := Patterns{Names: []string{"one", "x", "x"}}
	for i := range 30 {
		v := float64(i % 3)
		d.X, d.Y = append(d.X, 1, v, 2*v), append(d.Y, float64(i%4))
	}
	f, err := FitGLM(Poisson, d)
	require.NoError(t, err)
	e, err := f.Wald(1, f.ModelCovariance(), 0.95)
	require.NoError(t, err)
	require.False(t, math.IsInf(e.SE, 1))
	e, err = f.Wald(2, f.ModelCovariance(), 0.95)
	require.NoError(t, err)
	require.True(t, math.IsInf(e.SE, 1))
}

func TestCoxWarnsOfFewEvents(t *testing.T) {
	var rows []CoxRow
	for i := range 30 {
		rows = append(rows, CoxRow{Pattern: i % 2, Time: float64(1 + i*7%30), Event: i < 9, Count: 1})
	}
	f, err := FitCox(oneColumn(0, 1), rows, CoxOptions{})
	require.NoError(t, err)
	require.Len(t, f.Warnings, 1)
	require.Equal(t, "few events", f.Warnings[0].Code)
	rows[9].Event = true
	f, err = FitCox(oneColumn(0, 1), rows, CoxOptions{})
	require.NoError(t, err)
	require.Empty(t, f.Warnings)
}

func TestLawsAtTheirEnds(t *testing.T) {
	for _, upper := range []bool{false, true} {
		for _, p := range []float64{0, 1} {
			g, err := GammaQuantile(p, 2, upper)
			require.NoError(t, err)
			b, err := BetaQuantile(p, 2, 3, upper)
			require.NoError(t, err)
			if (p == 1) != upper {
				require.True(t, math.IsInf(g, 1))
				require.Equal(t, 1.0, b)
			} else {
				require.Equal(t, [2]float64{0, 0}, [2]float64{g, b})
			}
		}
	}
	low, high, err := NegBinomialCDF(3, 2, math.Inf(1))
	require.NoError(t, err)
	poisson, _, err := PoissonCDF(3, 2)
	require.NoError(t, err)
	require.Equal(t, poisson, low)
	require.InDelta(t, 1, low+high, 1e-15)
	for _, err := range []error{
		second(GammaCDF(math.NaN(), 1)), second(GammaCDF(1, 0)), second(BetaCDF(2, 1, 1)), second(BetaCDF(0.5, 0, 1)),
		second(PoissonCDF(1, -1)), second(PoissonCDF(math.MaxInt64, 1)), second(BinomialCDF(1, -1, 0.5)), second(BinomialCDF(1, 2, math.NaN())),
		second(NegBinomialCDF(1, 1, 0)), second(NegBinomialCDF(1, math.Inf(1), 1)),
	} {
		require.ErrorIs(t, err, ErrBadInput)
	}
	for _, err := range []error{
		only(BetaQuantile(1.5, 1, 1, false)), only(BetaQuantile(0.5, -1, 1, false)), only(BinomialQuantile(0.5, -1, 0.5)),
		only(NegBinomialQuantile(1, 1, 1)), only(NegBinomialQuantile(0.5, math.NaN(), 1)), only(NegBinomialQuantile(0.999999, 9e8, 1e-3)),
	} {
		require.ErrorIs(t, err, ErrBadInput)
	}
}

func second(_, _ float64, err error) error { return err }

func only[T any](_ T, err error) error { return err }

// Observed over expected by hand: 5 observed are 1.623 to 11.668 (tables after Garwood
// 1936, from memory).
func TestObservedOverExpected(t *testing.T) {
	iv, err := ObservedExpectedExact(5, 4, 0.95)
	require.NoError(t, err)
	require.InDelta(t, 1.623/4, iv.Low, 2e-4)
	require.InDelta(t, 11.668/4, iv.High, 2e-4)
}

// Clusters' tests rest on Student's law with G-1 degrees of freedom: 2.2622 for nine.
func TestClusterLimitsUseStudentsLaw(t *testing.T) {
	d := Patterns{Names: []string{"one"}}
	var clusters []Composition
	for i := range 10 {
		d.X, d.Y = append(d.X, 1), append(d.Y, float64(1+i%4))
		clusters = append(clusters, Composition{[]Member{{i, 1}}, 1})
	}
	f, err := FitGLM(Poisson, d)
	require.NoError(t, err)
	for _, kind := range []ClusterKind{CR0, CR1} {
		cov, err := f.ClusterCovariance(kind, clusters)
		require.NoError(t, err)
		e, err := f.Wald(0, cov, 0.95)
		require.NoError(t, err)
		require.Equal(t, 9.0, e.DF)
		require.InDelta(t, 2.262157, (e.Limits.High-e.Estimate)/e.SE, 1e-6)
	}
	e, err := f.Wald(0, f.ModelCovariance(), 0.95)
	require.NoError(t, err)
	require.InDelta(t, 1.959964, (e.Limits.High-e.Estimate)/e.SE, 1e-6)
}
