package stats

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"
)

// Worked by the formula to four digits, for odds doubled.
func TestBernoulliScoresWorkedValues(t *testing.T) {
	for _, c := range [][3]float64{{.05, .6444, -.0488}, {.10, .5978, -.0953}, {.30, .4308, -.2624}} {
		event, none, err := BernoulliScores(c[0], 2)
		require.NoError(t, err)
		require.InDelta(t, c[1], event, 5e-5)
		require.InDelta(t, c[2], none, 5e-5)
	}
	s, err := PoissonScore(3, 2, 1.5)
	require.NoError(t, err)
	require.True(t, almost(s, 3*math.Log(1.5)-1, 1e-14))
}

func TestCusumByHand(t *testing.T) {
	p, err := Cusum([]float64{-1, 0.5, 0.25, -2, 1, 0.5, 0.25, 1.5, 0.1}, 1.5)
	require.NoError(t, err)
	require.Equal(t, []float64{0, 0.5, 0.75, 0, 1, 1.5, 0.25, 1.75, 0.1}, p.Values)
	require.Equal(t, []int{5, 7}, p.Signals)
	tenths, err := Cusum([]float64{0.1, 0.1, 0.1, 0.1, 0.1, 0.1, 0.1, 0.1}, 0.8) // sums to 0.7999...
	require.NoError(t, err)
	require.Equal(t, []int{7}, tenths.Signals)
}

// spc's exact Poisson CUSUM: its alarm is above hm/m, ours at the next lattice point.
// The limits fall on our grid, so that only rounding differs.
func TestPoissonRunLengthAgainstR(t *testing.T) {
	ref, _ := loadMonitor(t)
	ref.Poisson.rows(t, func(i int, at func(string) float64) {
		law, err := PoissonScoreLaw([]CaseMix{{at("km") / at("m") * math.Ln2, 1}}, 2, at("truth"))
		require.NoError(t, err)
		l, err := RunLength(law, (at("hm")+1)/at("m")*math.Ln2)
		require.NoError(t, err)
		require.True(t, relative(l, at("arl"), 1e-7), "row %d: %.10g, spc has %.10g", i, l, at("arl"))
	})
}

// surveillance's own chain (after Hawkins & Olwell 1998) alarms at the limit, as here.
func TestRunLengthAgainstASecondPackage(t *testing.T) {
	ref, _ := loadMonitor(t)
	ref.Other.rows(t, func(i int, at func(string) float64) {
		law, err := BernoulliScoreLaw([]CaseMix{{math.Exp2(at("k")) - 1, 1}}, 2, math.Max(at("truth"), 1e-9))
		if at("poisson") == 1 {
			expected := at("k") * math.Ln2
			law, err = PoissonScoreLaw([]CaseMix{{expected, 1}}, 2, at("level")/expected)
		}
		require.NoError(t, err)
		l, err := RunLength(law, at("h")*math.Ln2)
		require.NoError(t, err)
		require.True(t, relative(l, at("arl"), 1e-7), "row %d: %.10g, surveillance has %.10g", i, l, at("arl"))
	})
}

// R solves the chain on the lattice's own states.
func TestBernoulliRunLengthOnLatticeAgainstR(t *testing.T) {
	ref, _ := loadMonitor(t)
	ref.Lattice.rows(t, func(i int, at func(string) float64) {
		k := at("k")
		law, err := BernoulliScoreLaw([]CaseMix{{math.Exp2(1/k) - 1, 3}}, 2, at("truth"))
		require.NoError(t, err)
		l, err := RunLength(law, at("H")*math.Ln2/k)
		require.NoError(t, err)
		require.True(t, relative(l, at("arl"), 1e-7), "row %d: %.10g, R has %.10g", i, l, at("arl"))
	})
}

// Off the lattice R follows events and non-events between two visits to 0, which is
// exact; the chain's even grid is off by 1.3 % at worst.
func TestBernoulliRunLengthOffLatticeAgainstR(t *testing.T) {
	ref, _ := loadMonitor(t)
	worst := 0.0
	ref.Free.rows(t, func(i int, at func(string) float64) {
		law, err := BernoulliScoreLaw([]CaseMix{{at("risk"), 1}}, 2, at("truth"))
		require.NoError(t, err)
		l, err := RunLength(law, at("h"))
		require.NoError(t, err)
		worst = max(worst, math.Abs(l/at("arl")-1))
		require.True(t, relative(l, at("arl"), 0.02), "row %d: %.10g, R has %.10g", i, l, at("arl"))
	})
	require.Greater(t, worst, 1e-4, "an exact match everywhere would mean the rows are on the grid")
}

var mixedRisks = []CaseMix{{0.02, 5}, {0.045, 8}, {0.11, 4}, {0.27, 2}}

func TestRunLengthSettlesWithFinerCells(t *testing.T) {
	for _, ratio := range []float64{2, 0.5} {
		law, err := BernoulliScoreLaw(mixedRisks, ratio, 1)
		require.NoError(t, err)
		for _, h := range []float64{1.7, 3.1} {
			l, err := RunLength(law, h)
			require.NoError(t, err)
			fine, err := chainLength(law, h, 2*chainCells)
			require.NoError(t, err)
			require.True(t, relative(l, fine, 0.01), "ratio %g, limit %g: %g, finer %g", ratio, h, l, fine)
		}
	}
}

func TestCusumLimitIsTheSmallest(t *testing.T) {
	bernoulli, err := BernoulliScoreLaw(mixedRisks, 2, 1)
	require.NoError(t, err)
	poisson, err := PoissonScoreLaw([]CaseMix{{2.5, 1}, {4, 2}}, 1.5, 1)
	require.NoError(t, err)
	for _, law := range []ScoreLaw{bernoulli, poisson} {
		for _, want := range []float64{100, 2000} {
			h, got, err := CusumLimit(law, want)
			require.NoError(t, err)
			require.GreaterOrEqual(t, got, want)
			again, err := RunLength(law, h)
			require.NoError(t, err)
			require.Equal(t, got, again)
			below, err := RunLength(law, h*(1-2.5/chainCells))
			require.NoError(t, err)
			require.Less(t, below, want)
		}
	}
}

// Three expected counts and whole events: at a ratio of 2 the run length jumps from
// 221 to 256 at a limit near 3.784. A limit inside the chain's smear of that jump
// would be reported with a run length that it does not have.
func TestCusumLimitAtAJump(t *testing.T) {
	law, err := PoissonScoreLaw([]CaseMix{{3, 1}, {5, 2}, {8, 1}}, 2, 1)
	require.NoError(t, err)
	limit, got, err := CusumLimit(law, 240)
	require.NoError(t, err)
	rng := rand.New(rand.NewPCG(5, 5))
	const runs = 10000
	var sum, squares float64
	for range runs {
		n := 0.0
		for s := 0.0; s < limit; n++ {
			mean := []float64{3, 5, 5, 8}[rng.IntN(4)]
			s = max(0, s+distuv.Poisson{Lambda: mean, Src: rng}.Rand()*math.Ln2-mean)
		}
		sum, squares = sum+n, squares+n*n
	}
	mean := sum / runs
	se := math.Sqrt((squares/runs - mean*mean) / runs)
	require.InDelta(t, mean, got, 3*se, "limit %g", limit)
	require.Greater(t, got, 250.0)
}

func TestEWMARunLengthAgainstR(t *testing.T) {
	ref, _ := loadMonitor(t)
	ref.Ewma.rows(t, func(i int, at func(string) float64) {
		if at("weight") == 1 {
			// Without memory the run length is geometric, which needs no tool.
			lower, _ := NormalTails(-at("width") - at("shift"))
			_, upper := NormalTails(at("width") - at("shift"))
			require.True(t, relative(at("arl"), 1/(lower+upper), 1e-8))
		}
		l, err := EWMARunLength(at("weight"), at("width"), at("shift"))
		require.NoError(t, err)
		require.True(t, relative(l, at("arl"), 1e-7), "row %d: %.10g, spc has %.10g", i, l, at("arl"))
	})
	ref.Crit.rows(t, func(i int, at func(string) float64) {
		w, err := EWMAWidth(at("weight"), at("L"))
		require.NoError(t, err)
		require.True(t, relative(w, at("width"), 2e-6), "row %d: %.10g, spc has %.10g", i, w, at("width"))
	})
	// Lucas & Saccucci 1990, from memory: weight 0.25 with 2.998 and 0.1 with 2.814
	// run 500 periods.
	for _, c := range [][2]float64{{0.25, 2.998}, {0.1, 2.814}} {
		l, err := EWMARunLength(c[0], c[1], 0)
		require.NoError(t, err)
		require.InDelta(t, 500, l, 1)
	}
	l, err := EWMARunLength(DefaultEWMA().Weight, DefaultEWMA().Width, 0)
	require.NoError(t, err)
	require.InDelta(t, 370, l, 5)
}

func TestMonitorHostile(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	for _, c := range [][2]float64{{nan, 2}, {-0.1, 2}, {1.1, 2}, {0.1, 1}, {0.1, 0}, {0.1, nan}, {0.1, inf}, {0.1, -2}} {
		_, _, err := BernoulliScores(c[0], c[1])
		require.ErrorIs(t, err, ErrBadInput, "%v", c)
	}
	for _, c := range [][3]float64{{nan, 1, 2}, {1, -1, 2}, {1, inf, 2}, {1, 1, 1}} {
		_, err := PoissonScore(c[0], c[1], c[2])
		require.ErrorIs(t, err, ErrBadInput, "%v", c)
	}
	for _, h := range []float64{0, -1, nan, inf} {
		_, err := Cusum([]float64{1}, h)
		require.ErrorIs(t, err, ErrBadInput, "limit %g", h)
	}
	_, err := Cusum([]float64{1, nan}, 3)
	require.ErrorIs(t, err, ErrBadInput)
	empty, err := Cusum(nil, 3)
	require.NoError(t, err)
	require.Empty(t, empty.Signals)

	for name, c := range map[string]struct {
		mix          []CaseMix
		ratio, truth float64
		want         error
	}{
		"none":         {nil, 2, 1, ErrNoData},
		"no share":     {[]CaseMix{{0.1, 0}}, 2, 1, ErrNoData},
		"risk 0":       {[]CaseMix{{0, 1}}, 2, 1, ErrBadInput},
		"risk 1":       {[]CaseMix{{1, 1}}, 2, 1, ErrBadInput},
		"risk NaN":     {[]CaseMix{{nan, 1}}, 2, 1, ErrBadInput},
		"share NaN":    {[]CaseMix{{0.1, nan}}, 2, 1, ErrBadInput},
		"ratio 1":      {[]CaseMix{{0.1, 1}}, 1, 1, ErrBadInput},
		"truth 0":      {[]CaseMix{{0.1, 1}}, 2, 0, ErrBadInput},
		"truth beyond": {[]CaseMix{{0.1, 1}}, 2, inf, ErrBadInput},
	} {
		_, err := BernoulliScoreLaw(c.mix, c.ratio, c.truth)
		require.ErrorIs(t, err, c.want, name)
	}
	_, err = PoissonScoreLaw([]CaseMix{{2e4, 1}}, 2, 1)
	require.ErrorIs(t, err, ErrBadInput)
	_, err = RunLength(ScoreLaw{}, 2)
	require.ErrorIs(t, err, ErrNoData)
	_, _, err = CusumLimit(ScoreLaw{}, 100)
	require.ErrorIs(t, err, ErrNoData)
}

func TestRunLengthAtTheEdges(t *testing.T) {
	law, err := BernoulliScoreLaw([]CaseMix{{0.5, 1}}, 2, 1)
	require.NoError(t, err)
	for _, h := range []float64{0, math.NaN(), math.Inf(1)} {
		_, err = RunLength(law, h)
		require.ErrorIs(t, err, ErrBadInput)
	}
	l, err := RunLength(law, 1e-9) // the first event signals
	require.NoError(t, err)
	require.True(t, almost(l, 2, 1e-9), "%g", l)
	l, err = RunLength(law, 60)
	require.NoError(t, err)
	require.True(t, math.IsInf(l, 1), "%g", l)
	for _, want := range []float64{1, 0, math.NaN(), 1e8} {
		_, _, err = CusumLimit(law, want)
		require.ErrorIs(t, err, ErrBadInput)
		_, err = EWMAWidth(0.2, want)
		require.ErrorIs(t, err, ErrBadInput)
	}
	for _, c := range [][3]float64{{0.01, 3, 0}, {1.1, 3, 0}, {math.NaN(), 3, 0}, {0.2, 0, 0}, {0.2, 9, 0}, {0.2, 3, math.Inf(1)}} {
		_, err = EWMARunLength(c[0], c[1], c[2])
		require.ErrorIs(t, err, ErrBadInput, "%v", c)
	}
}

// The order and the scale of shares do not matter, and neither does splitting one.
func TestScoreLawProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		mix := rapid.SliceOfN(rapid.Custom(func(t *rapid.T) CaseMix {
			return CaseMix{float64(rapid.IntRange(1, 60).Draw(t, "risk")) / 100, float64(rapid.IntRange(1, 9).Draw(t, "share"))}
		}), 1, 4).Draw(t, "mix")
		other := []CaseMix{{mix[0].Level, mix[0].Share}}
		for _, m := range backwards(mix) {
			other = append(other, CaseMix{m.Level, 2 * m.Share})
		}
		other[0].Share, other[len(other)-1].Share = mix[0].Share/2, 1.5*mix[0].Share
		a, err := BernoulliScoreLaw(mix, 2, 1)
		require.NoError(t, err)
		b, err := BernoulliScoreLaw(other, 2, 1)
		require.NoError(t, err)
		require.Equal(t, a.score, b.score)
		sum := 0.0
		for i, p := range a.prob {
			require.True(t, almost(b.prob[i], p, 1e-12))
			sum += p
		}
		require.True(t, almost(sum, 1, 1e-12))
	})
}

func BenchmarkCusumLimit(b *testing.B) {
	law, err := BernoulliScoreLaw(mixedRisks, 2, 1)
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		if _, _, err := CusumLimit(law, 5000); err != nil {
			b.Fatal(err)
		}
	}
}
