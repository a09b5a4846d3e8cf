package stats

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

type chartReference struct {
	Events, Size []float64
	U, P         struct {
		Centre, Sigma float64
		Low, High     []float64
	}
	N, MaxRun, MinCrossings []int
}

func (r chartReference) periods() []ChartPeriod {
	out := make([]ChartPeriod, len(r.Events))
	for i := range out {
		out[i] = ChartPeriod{r.Events[i], r.Size[i]}
	}
	return out
}

func TestChartsAndRunsBoundsAgainstR(t *testing.T) {
	var ref chartReference
	loadReference(t, "monitor", &ref)
	u, err := UChart(ref.periods(), ChartOptions{Laney: true})
	require.NoError(t, err)
	p, err := PChart(ref.periods(), ChartOptions{Laney: true})
	require.NoError(t, err)
	require.True(t, almost(u.SigmaZ, ref.U.Sigma, 1e-12) && almost(u.Centre, ref.U.Centre, 1e-12), "%g", u.SigmaZ)
	require.True(t, almost(p.SigmaZ, ref.P.Sigma, 1e-12), "%g", p.SigmaZ)
	for i := range ref.Events {
		require.True(t, almost(u.Points[i].Low, ref.U.Low[i], 1e-12) && almost(u.Points[i].High, ref.U.High[i], 1e-12), "u %d", i)
		require.True(t, almost(p.Points[i].Low, ref.P.Low[i], 1e-12) && almost(p.Points[i].High, ref.P.High[i], 1e-12), "p %d", i)
	}
	require.NotEmpty(t, ref.N)
	for i, n := range ref.N {
		run, crossings := runsBounds(n)
		require.Equal(t, [2]int{ref.MaxRun[i], ref.MinCrossings[i]}, [2]int{run, crossings}, "n = %d", n)
	}
}

// Table of Anhoj & Olesen 2014 at three lengths, from memory.
func TestRunsBoundsPublished(t *testing.T) {
	for _, c := range [][3]int{{10, 6, 2}, {20, 7, 6}, {24, 8, 8}} {
		run, crossings := runsBounds(c[0])
		require.Equal(t, [2]int{c[1], c[2]}, [2]int{run, crossings}, "n = %d", c[0])
	}
}

// Runs about the median, 5 % two-sided: values by formula, as in Swed & Eisenhart.
func TestRunsAccepted(t *testing.T) {
	for _, c := range [][3]int{{10, 3, 9}, {15, 5, 12}, {20, 7, 15}, {24, 8, 18}, {30, 11, 21}} {
		low, high, err := RunsAccepted(c[0]/2, c[0]-c[0]/2, 0.05)
		require.NoError(t, err)
		require.Equal(t, [2]int{c[1], c[2]}, [2]int{low, high}, "n = %d", c[0])
	}
	for _, c := range [][2]int{{1, 1}, {2, 5}, {7, 7}, {6, 9}} {
		var sum float64
		for r := 2; r <= 2*min(c[0], c[1])+1; r++ {
			sum += runsProbability(c[0], c[1], r)
		}
		require.True(t, almost(sum, 1, 1e-12), "%v: %g", c, sum)
	}
	_, _, err := RunsAccepted(0, 5, 0.05)
	require.ErrorIs(t, err, ErrBadInput)
	_, _, err = RunsAccepted(5, 5, math.NaN())
	require.ErrorIs(t, err, ErrBadInput)
}

// All 2^n series, one by one.
func TestRunsFalseRatesByEnumeration(t *testing.T) {
	for _, n := range []int{1, 2, 5, 11, 14} {
		var shift, few, either int
		for bits := range 1 << n {
			values := make([]float64, n)
			for i := range values {
				values[i] = float64(bits>>i&1)*2 - 1
			}
			longest, crossings := slowRuns(values)
			maxRun, minCrossings := runsBounds(n)
			a, b := longest > maxRun, crossings < minCrossings
			shift, few, either = shift+oneIf(a), few+oneIf(b), either+oneIf(a || b)
		}
		all := float64(int(1) << n)
		r, err := CountRuns(make([]float64, n), -1)
		require.NoError(t, err)
		require.True(t, almost(r.FalseShift, float64(shift)/all, 1e-12), "n = %d: shift %g", n, r.FalseShift)
		require.True(t, almost(r.FalseCrossings, float64(few)/all, 1e-12), "n = %d: crossings %g", n, r.FalseCrossings)
		require.True(t, almost(r.FalseEither, float64(either)/all, 1e-12), "n = %d: either %g", n, r.FalseEither)
	}
}

// slowRuns compares every value with every stretch that could start at it.
func slowRuns(signs []float64) (longest, crossings int) {
	for i := range signs {
		j := i
		for j < len(signs) && signs[j] == signs[i] {
			j++
		}
		longest = max(longest, j-i)
		if i > 0 && signs[i] != signs[i-1] {
			crossings++
		}
	}
	return longest, crossings
}

func oneIf(b bool) int {
	if b {
		return 1
	}
	return 0
}

func TestCountRunsPassesOverTheCentre(t *testing.T) {
	r, err := CountRuns([]float64{1, 2, 5, 5, 1, 9, 9, 1}, 5)
	require.NoError(t, err)
	require.Equal(t, [3]int{6, 3, 2}, [3]int{r.Useful, r.Longest, r.Crossings})
	flat, err := CountRuns([]float64{5, 5}, 5)
	require.NoError(t, err)
	require.Equal(t, Runs{}, flat)
	_, err = CountRuns(nil, 0)
	require.ErrorIs(t, err, ErrNoData)
	_, err = CountRuns([]float64{1, math.NaN()}, 0)
	require.ErrorIs(t, err, ErrBadInput)
	_, err = CountRuns(make([]float64, maxRunsLength+1), 0)
	require.ErrorIs(t, err, ErrBadInput)
}

func TestCountRunsProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := rapid.SliceOfN(rapid.Float64Range(-1, 1), 1, 60).Draw(t, "v")
		signs := []float64{}
		for _, x := range v {
			if x != 0 {
				signs = append(signs, math.Copysign(1, x))
			}
		}
		r, err := CountRuns(v, 0)
		require.NoError(t, err)
		longest, crossings := slowRuns(signs)
		require.Equal(t, [3]int{len(signs), longest, crossings}, [3]int{r.Useful, r.Longest, r.Crossings})
		require.LessOrEqual(t, r.FalseEither, r.FalseShift+r.FalseCrossings+1e-12)
		require.GreaterOrEqual(t, r.FalseEither, max(r.FalseShift, r.FalseCrossings)-1e-12)
		require.LessOrEqual(t, r.FalseCrossings, 0.05)
	})
}

func TestChartNamesTheBrokenRules(t *testing.T) {
	var periods []ChartPeriod
	for i := range 24 {
		e := 20.0 + float64(i%2)
		if i >= 12 {
			e += 15
		}
		periods = append(periods, ChartPeriod{e, 100})
	}
	periods[5] = ChartPeriod{60, 100}
	c, err := UChart(periods, ChartOptions{Baseline: 5})
	require.NoError(t, err)
	require.True(t, almost(c.Centre, 0.204, 1e-12), "%g", c.Centre)
	codes := []string{}
	for _, s := range c.Signals {
		codes = append(codes, s.Code)
	}
	require.Equal(t, []string{"above-limit", "shift"}, codes)
	require.Equal(t, 1, c.Points[5].Beyond)
	whole, err := UChart(periods[12:], ChartOptions{Laney: true})
	require.NoError(t, err)
	require.Empty(t, whole.Signals)
	require.Equal(t, "short-baseline", whole.Warnings[0].Code)
}

// The chance of a point outside, by plain sums of Poisson probabilities.
func TestChartFalseBeyondAgainstPlainSums(t *testing.T) {
	c, err := UChart([]ChartPeriod{{6, 10}, {0, 0}, {30, 50}, {2, 4}}, ChartOptions{})
	require.NoError(t, err)
	require.True(t, c.Points[1].Empty)
	steady := 1.0
	for _, p := range c.Points {
		if p.Empty {
			continue
		}
		var inside float64
		for k := range 200 {
			if v := float64(k) / p.Size; v >= p.Low && v <= p.High {
				inside += poissonProb(c.Centre * p.Size)(k)
			}
		}
		steady *= inside
	}
	require.True(t, almost(c.FalseBeyond, 1-steady, 1e-10), "%g, want %g", c.FalseBeyond, 1-steady)
	require.Positive(t, c.FalseBeyond)
}

func TestChartHostile(t *testing.T) {
	nan := math.NaN()
	for name, c := range map[string]struct {
		periods []ChartPeriod
		opt     ChartOptions
		want    error
	}{
		"none":          {nil, ChartOptions{}, ErrNoData},
		"all zero":      {[]ChartPeriod{{0, 5}, {0, 5}}, ChartOptions{}, ErrNoData},
		"no size":       {[]ChartPeriod{{0, 0}}, ChartOptions{}, ErrNoData},
		"NaN":           {[]ChartPeriod{{nan, 5}}, ChartOptions{}, ErrBadInput},
		"size infinite": {[]ChartPeriod{{1, math.Inf(1)}}, ChartOptions{}, ErrBadInput},
		"from nothing":  {[]ChartPeriod{{1, 0}}, ChartOptions{}, ErrBadInput},
		"long baseline": {[]ChartPeriod{{1, 3}}, ChartOptions{Baseline: 2}, ErrBadInput},
	} {
		_, err := UChart(c.periods, c.opt)
		require.ErrorIs(t, err, c.want, "u: %s", name)
		_, err = PChart(c.periods, c.opt)
		require.ErrorIs(t, err, c.want, "p: %s", name)
	}
	_, err := PChart([]ChartPeriod{{4, 3}}, ChartOptions{})
	require.ErrorIs(t, err, ErrBadInput)
	_, err = PChart([]ChartPeriod{{3, 3}}, ChartOptions{})
	require.ErrorIs(t, err, ErrNoData)
	one, err := PChart([]ChartPeriod{{1, 3}}, ChartOptions{Laney: true})
	require.NoError(t, err)
	require.Equal(t, 1.0, one.SigmaZ)
	require.Equal(t, "no-variation", one.Warnings[1].Code)
}

func TestEWMA(t *testing.T) {
	x := []float64{3, 5, 2, 8}
	points, err := EWMA(x, []float64{2, 2, 2, 2}, 4, 0.25, 3)
	require.NoError(t, err)
	for i, p := range points {
		want := 4 * math.Pow(0.75, float64(i+1)) // the sum of all values with falling weights
		for j := 0; j <= i; j++ {
			want += 0.25 * math.Pow(0.75, float64(i-j)) * x[j]
		}
		require.True(t, almost(p.Smoothed, want, 1e-12))
		// Equal deviations have a closed form: weight/(2-weight) (1 - (1-weight)^(2t)).
		half := 6 * math.Sqrt(0.25/1.75*(1-math.Pow(0.75, float64(2*i+2))))
		require.True(t, almost(p.High, 4+half, 1e-12) && almost(p.Low, 4-half, 1e-12), "%+v", p)
		require.Zero(t, p.Beyond)
	}
	jump, err := EWMA([]float64{10, -10}, []float64{1, 1}, 0, 1, 3)
	require.NoError(t, err)
	require.Equal(t, [2]int{1, -1}, [2]int{jump[0].Beyond, jump[1].Beyond})
	for _, c := range [][2]float64{{0, 3}, {1.1, 3}, {math.NaN(), 3}, {0.2, 0}, {0.2, math.Inf(1)}} {
		_, err = EWMA(x, []float64{1, 1, 1, 1}, 0, c[0], c[1])
		require.ErrorIs(t, err, ErrBadInput)
	}
	_, err = EWMA(nil, nil, 0, 0.2, 3)
	require.ErrorIs(t, err, ErrNoData)
	_, err = EWMA(x, []float64{1, 1, 0, 1}, 0, 0.2, 3)
	require.ErrorIs(t, err, ErrBadInput)
	_, err = EWMA(x, []float64{1}, 0, 0.2, 3)
	require.ErrorIs(t, err, ErrBadInput)
}

// xewma.arl of R's spc with time-varying limits; 4 standard errors of simulation.
func TestEWMARunLengthAgainstR(t *testing.T) {
	var ref cusumReference
	loadReference(t, "monitor", &ref)
	require.NotEmpty(t, ref.Ewma)
	for _, c := range ref.Ewma {
		got, err := SimulateEWMA(c.Weight, c.Width, c.Shift, 5000, 100_000, 3)
		require.NoError(t, err)
		require.InDelta(t, c.Arl, got.Mean, 4*got.SE, "weight %g", c.Weight)
		require.Less(t, got.SE, 0.03*c.Arl)
	}
	_, err := SimulateEWMA(0.1, 3, math.NaN(), 5, 5, 1)
	require.ErrorIs(t, err, ErrBadInput)
}

func BenchmarkUChart120Periods(b *testing.B) {
	periods := make([]ChartPeriod, 120)
	for i := range periods {
		periods[i] = ChartPeriod{float64(20 + i%7), float64(90 + i%11)}
	}
	for b.Loop() {
		if _, err := UChart(periods, ChartOptions{Laney: true}); err != nil {
			b.Fatal(err)
		}
	}
}
