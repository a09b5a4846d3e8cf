package stats

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// Worked values by formula for an odds ratio of 2.
func TestBernoulliScoresWorkedValues(t *testing.T) {
	for _, c := range [][3]float64{{0.05, 0.6444, -0.0488}, {0.10, 0.5978, -0.0953}, {0.30, 0.4308, -0.2624}} {
		s, err := BernoulliScores(c[0], 2)
		require.NoError(t, err)
		require.InDelta(t, c[1], s.Event, 5e-5)
		require.InDelta(t, c[2], s.NoEvent, 5e-5)
	}
}

type cusumReference struct {
	Pois []struct{ Ratio, Limit, InControl, Out float64 }
	Bern []struct{ Risk, Limit, Event, None, InControl, Out float64 }
	Ewma []struct{ Weight, Width, Shift, Arl float64 }
}

// The limits lie on the chain's nodes, so it is exact there: pois.cusum.arl of R's
// spc, and a finite system solved in R for Bernoulli scores.
func TestCusumRunLengthsAgainstR(t *testing.T) {
	var ref cusumReference
	loadReference(t, "monitor", &ref)
	require.NotEmpty(t, ref.Pois)
	for _, c := range ref.Pois {
		d, err := NewPoissonCusum([]RiskGroup{{1, 7}}, c.Ratio)
		require.NoError(t, err)
		requireRunLength(t, d, c.Limit, 1, c.InControl, 1e-6)
		requireRunLength(t, d, c.Limit, c.Ratio, c.Out, 1e-6)
	}
	require.NotEmpty(t, ref.Bern)
	for _, c := range ref.Bern {
		s, err := BernoulliScores(c.Risk, 2)
		require.NoError(t, err)
		require.True(t, almost(s.Event, c.Event, 1e-12) && almost(s.NoEvent, c.None, 1e-12), "%+v", s)
		d, err := NewBernoulliCusum([]RiskGroup{{c.Risk, 1}}, 2)
		require.NoError(t, err)
		requireRunLength(t, d, c.Limit, 1, c.InControl, 1e-8)
		requireRunLength(t, d, c.Limit, 2, c.Out, 1e-8)
	}
}

func requireRunLength(t *testing.T, d CusumDesign, limit, actual, want, tol float64) {
	t.Helper()
	got, err := d.AverageRunLength(limit, actual)
	require.NoError(t, err)
	require.True(t, relative(got, want, tol), "%.10g, want %.10g", got, want)
}

// Off the nodes, and with mixed risks, plain simulation is the reference.
func TestCusumChainAgainstSimulation(t *testing.T) {
	mix := []RiskGroup{{0.04, 2}, {0.1, 3}, {0.27, 1}}
	bernoulli, err := NewBernoulliCusum(mix, 2)
	require.NoError(t, err)
	better, err := NewBernoulliCusum(mix, 0.5)
	require.NoError(t, err)
	poisson, err := NewPoissonCusum([]RiskGroup{{0.6, 1}, {2.3, 2}}, 2)
	require.NoError(t, err)
	for i, d := range []CusumDesign{bernoulli, better, poisson} {
		for _, actual := range []float64{1, 2, 0.5} {
			want, err := d.AverageRunLength(1.7, actual)
			require.NoError(t, err)
			if want > 2000 {
				continue
			}
			got, err := d.Simulate(1.7, actual, 4000, 1_000_000, 11)
			require.NoError(t, err)
			require.Zero(t, got.Cut)
			require.InDelta(t, want, got.Mean, 4*got.SE+0.01*want, "design %d, ratio %g", i, actual)
		}
	}
}

func TestCusumLimitFor(t *testing.T) {
	mix := []RiskGroup{{0.04, 2}, {0.1, 3}, {0.27, 1}}
	d, err := NewBernoulliCusum(mix, 2)
	require.NoError(t, err)
	for _, want := range []float64{50, 600} {
		l, err := d.LimitFor(want, 2)
		require.NoError(t, err)
		require.GreaterOrEqual(t, l.InControl, want)
		require.Less(t, l.InControl, 1.05*want)
		require.Less(t, l.Detection, l.InControl/2)
		less, err := d.AverageRunLength(l.Limit*(1-4.0/chainNodes), 1)
		require.NoError(t, err)
		require.Less(t, less, want, "a smaller limit would do")
	}
	mix[0].Risk = 0.9 // the design owns its groups
	again, err := d.LimitFor(50, 2)
	require.NoError(t, err)
	require.Less(t, again.InControl, 53.0)
}

func TestCusumPathByHand(t *testing.T) {
	path, alarm, err := CusumPath([]float64{-1, 0.5, 0.75, -0.25, 2, -9}, 3)
	require.NoError(t, err)
	require.Equal(t, []float64{0, 0.5, 1.25, 1, 3, 0}, path)
	require.Equal(t, 4, alarm)
	_, alarm, err = CusumPath([]float64{0.5, 0.5}, 1.001)
	require.NoError(t, err)
	require.Equal(t, -1, alarm)
}

func TestCusumHostile(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	for _, p := range []float64{0, 1, nan, -0.1} {
		_, err := BernoulliScores(p, 2)
		require.ErrorIs(t, err, ErrBadInput)
		_, err = NewBernoulliCusum([]RiskGroup{{p, 1}}, 2)
		require.ErrorIs(t, err, ErrBadInput)
	}
	for _, r := range []float64{0, 1, nan, inf, -2} {
		_, err := PoissonScore(1, 1, r)
		require.ErrorIs(t, err, ErrBadInput)
		_, err = NewPoissonCusum([]RiskGroup{{1, 1}}, r)
		require.ErrorIs(t, err, ErrBadInput)
	}
	_, err := PoissonScore(1, 0, 2)
	require.ErrorIs(t, err, ErrBadInput)
	_, err = NewBernoulliCusum(nil, 2)
	require.ErrorIs(t, err, ErrNoData)
	_, err = NewBernoulliCusum([]RiskGroup{{0.1, 0}}, 2)
	require.ErrorIs(t, err, ErrBadInput)
	d, err := NewBernoulliCusum([]RiskGroup{{0.1, 1}}, 2)
	require.NoError(t, err)
	for _, limit := range []float64{0, -1, nan, inf} {
		_, err = d.AverageRunLength(limit, 1)
		require.ErrorIs(t, err, ErrBadInput)
		_, _, err = CusumPath([]float64{1}, limit)
		if limit != inf {
			require.ErrorIs(t, err, ErrBadInput)
		}
	}
	_, err = CusumDesign{}.AverageRunLength(1, 1)
	require.ErrorIs(t, err, ErrBadInput)
	_, err = d.LimitFor(nan, 2)
	require.ErrorIs(t, err, ErrBadInput)
	_, err = d.Simulate(1, 1, 1, 10, 1)
	require.ErrorIs(t, err, ErrBadInput)
	_, _, err = CusumPath([]float64{nan}, 1)
	require.ErrorIs(t, err, ErrBadInput)
	never, err := d.AverageRunLength(200, 0.5)
	require.NoError(t, err)
	require.True(t, math.IsInf(never, 1), "%g", never)
}

func TestCusumSimulationIsSeeded(t *testing.T) {
	d, err := NewBernoulliCusum([]RiskGroup{{0.1, 1}}, 2)
	require.NoError(t, err)
	a, err := d.Simulate(2, 1, 200, 100, 5)
	require.NoError(t, err)
	b, _ := d.Simulate(2, 1, 200, 100, 5)
	c, _ := d.Simulate(2, 1, 200, 100, 6)
	require.Equal(t, a, b)
	require.NotEqual(t, a, c)
	require.Positive(t, a.Cut, "runs beyond 100 cases must be told")
}

func TestCusumProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := rapid.Float64Range(0.001, 0.999).Draw(t, "p")
		r := rapid.Float64Range(0.1, 8).Filter(func(v float64) bool { return math.Abs(v-1) > 0.01 }).Draw(t, "r")
		s, err := BernoulliScores(p, r)
		require.NoError(t, err)
		// A likelihood ratio has expectation 1 under the law in its denominator.
		require.True(t, almost(p*math.Exp(s.Event)+(1-p)*math.Exp(s.NoEvent), 1, 1e-12))
		require.Less(t, p*s.Event+(1-p)*s.NoEvent, 0.0, "in control the CUSUM must drift down")
		scores := rapid.SliceOf(rapid.Float64Range(-2, 2)).Draw(t, "scores")
		path, _, err := CusumPath(scores, 1)
		require.NoError(t, err)
		for i := range path { // S_t is the best sum of scores that ends at t
			best, sum := 0.0, 0.0
			for j := i; j >= 0; j-- {
				sum += scores[j]
				best = max(best, sum)
			}
			require.True(t, almost(path[i], best, 1e-9))
		}
	})
}

func BenchmarkCusumLimitFor(b *testing.B) {
	groups := make([]RiskGroup, 100)
	for i := range groups {
		groups[i] = RiskGroup{0.02 + 0.003*float64(i), 1}
	}
	d, err := NewBernoulliCusum(groups, 2)
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		if _, err := d.LimitFor(1000, 2); err != nil {
			b.Fatal(err)
		}
	}
}
