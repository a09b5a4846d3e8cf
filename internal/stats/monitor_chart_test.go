package stats

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

type chartReference struct {
	Center, SigmaZ                                  float64
	Z, Low, High, LowLaney, HighLaney, Ewma, EwmaSE []float64
}

type monitorReference struct {
	X, N                                      []float64
	Charts                                    struct{ U, U16, P chartReference }
	Poisson, Lattice, Free, Ewma, Crit, Rules columns
	Other                                     columns
	Weeks                                     struct {
		Seen, Came, Low, High, Individual []float64
		Center, Sigma                     float64
		Outside                           int
	}
}

func loadMonitor(t *testing.T) (ref monitorReference, periods []Period) {
	t.Helper()
	loadReference(t, "compare_monitor", &ref)
	for i := range ref.X {
		periods = append(periods, Period{ref.X[i], ref.N[i]})
	}
	require.NotEmpty(t, periods)
	return ref, periods
}

// compare_monitor.R: the formulas written out on vectors; the EWMA's variance there
// is the sum of all weights, not the recursion.
func TestChartsAgainstR(t *testing.T) {
	ref, periods := loadMonitor(t)
	for name, c := range map[string]struct {
		draw     func([]Period, ChartOptions) (Chart, error)
		baseline int
		want     chartReference
	}{"u": {UChart, 0, ref.Charts.U}, "u, 16 periods": {UChart, 16, ref.Charts.U16}, "p": {PChart, 24, ref.Charts.P}} {
		plain, err := c.draw(periods, ChartOptions{Width: 3, Baseline: c.baseline})
		require.NoError(t, err)
		laney, err := c.draw(periods, ChartOptions{Width: 3, Baseline: c.baseline, Laney: true})
		require.NoError(t, err)
		require.True(t, relative(plain.Center, c.want.Center, 1e-12) && relative(plain.SigmaZ, c.want.SigmaZ, 1e-12), "%s: %g %g", name, plain.Center, plain.SigmaZ)
		average, err := plain.EWMA(EWMAOptions{Weight: 0.2, Width: 3})
		require.NoError(t, err)
		for i, p := range plain.Points {
			require.True(t, almost(p.Z, c.want.Z[i], 1e-10), "%s, period %d", name, i)
			sameInterval(t, Interval{c.want.Low[i], c.want.High[i]}, p.Limits, 1e-10, name)
			sameInterval(t, Interval{c.want.LowLaney[i], c.want.HighLaney[i]}, laney.Points[i].Limits, 1e-10, name+" with Laney")
			se := c.want.EwmaSE[i]
			require.True(t, relative(average[i].Value, c.want.Ewma[i], 1e-12) && almost(average[i].Z, (c.want.Ewma[i]-plain.Center)/se, 1e-10), "%s, average %d", name, i)
			sameInterval(t, Interval{max(0, plain.Center-3*se), plain.Center + 3*se}, average[i].Limits, 1e-10, name+" average")
		}
	}
}

// Twenty weeks of emergency attendances, which Mohammed, Panesar, Laney & Wilson 2013 (BMJ
// Qual Saf 22:362) show as an example of what their correction is for: most weeks are
// outside the plain limits, none is outside the corrected ones, and these lie close to
// the limits of a chart of individual values. R has the factor 1.128 to three decimals.
func TestLaneyChartOfPublishedExample(t *testing.T) {
	ref, _ := loadMonitor(t)
	weeks := ref.Weeks
	var periods []Period
	for i := range weeks.Seen {
		periods = append(periods, Period{weeks.Seen[i], weeks.Came[i]})
	}
	require.Len(t, periods, 20)
	outside := func(laney bool) (c Chart, n int) {
		c, err := PChart(periods, ChartOptions{Width: 3, Laney: laney})
		require.NoError(t, err)
		for _, p := range c.Points {
			if p.Beyond != 0 {
				n++
			}
		}
		return c, n
	}
	_, n := outside(false)
	require.Equal(t, weeks.Outside, n)
	require.Equal(t, 16, n)
	c, n := outside(true)
	require.Zero(t, n)
	require.True(t, relative(c.Center, weeks.Center, 1e-12))
	require.True(t, relative(c.SigmaZ, weeks.Sigma, 4e-4), "%g %g", c.SigmaZ, weeks.Sigma)
	width := weeks.Individual[1] - weeks.Individual[0]
	for i, p := range c.Points {
		require.InDelta(t, weeks.Low[i], p.Limits.Low, 1e-5)
		require.InDelta(t, weeks.High[i], p.Limits.High, 1e-5)
		require.InDelta(t, weeks.Individual[0], p.Limits.Low, 0.05*width)
		require.InDelta(t, weeks.Individual[1], p.Limits.High, 0.05*width)
	}
}

func TestChartFlags(t *testing.T) {
	periods := []Period{{4, 4}, {4, 4}, {0, 0}, {4, 4}, {11, 4}, {10, 4}}
	c, err := UChart(periods, ChartOptions{Baseline: 4, Width: 3}) // centre 1, limits 1 +- 1.5
	require.NoError(t, err)
	require.Equal(t, []int{0, 0, 0, 0, 1, 0}, flags(c.Points)) // 2.5 lies on the limit
	require.Zero(t, c.SigmaZ)
	require.Equal(t, Interval{0, math.Inf(1)}, c.Points[2].Limits)
	require.Equal(t, "few-periods", c.Warnings[0].Code)

	laney, err := UChart(periods, ChartOptions{Baseline: 4, Width: 3, Laney: true})
	require.NoError(t, err)
	require.Equal(t, c.Points, laney.Points)
	require.Equal(t, "no-spread", laney.Warnings[1].Code)

	p, err := PChart([]Period{{50, 100}, {50, 100}, {30, 100}, {1, 1}}, ChartOptions{Baseline: 2, Width: 3})
	require.NoError(t, err)
	require.Equal(t, []int{0, 0, -1, 0}, flags(p.Points))
	require.Equal(t, Interval{0, 1}, p.Points[3].Limits)

	average, err := c.EWMA(EWMAOptions{Weight: 1, Width: 3})
	require.NoError(t, err)
	require.Equal(t, []int{0, 0, 0, 0, 1, 0}, flags(average), "weight 1 is the chart itself")
	require.Equal(t, average[1].Value, average[2].Value, "an empty period changes nothing")
}

func flags(points []ChartPoint) []int {
	var out []int
	for _, p := range points {
		out = append(out, p.Beyond)
	}
	return out
}

func TestChartHostile(t *testing.T) {
	ok := DefaultChart()
	for name, c := range map[string]struct {
		periods []Period
		opt     ChartOptions
		want    error
	}{
		"none":           {nil, ok, ErrNoData},
		"no events":      {[]Period{{0, 5}, {0, 3}}, ok, ErrNoData},
		"no size":        {[]Period{{0, 0}}, ok, ErrNoData},
		"NaN":            {[]Period{{math.NaN(), 5}}, ok, ErrBadInput},
		"infinite":       {[]Period{{1, math.Inf(1)}}, ok, ErrBadInput},
		"negative":       {[]Period{{-1, 5}}, ok, ErrBadInput},
		"from nothing":   {[]Period{{1, 0}}, ok, ErrBadInput},
		"no width":       {[]Period{{1, 5}}, ChartOptions{}, ErrBadInput},
		"width NaN":      {[]Period{{1, 5}}, ChartOptions{Width: math.NaN()}, ErrBadInput},
		"long baseline":  {[]Period{{1, 5}}, ChartOptions{Width: 3, Baseline: 2}, ErrBadInput},
		"empty baseline": {[]Period{{0, 0}, {1, 5}}, ChartOptions{Width: 3, Baseline: 1}, ErrNoData},
	} {
		_, err := UChart(c.periods, c.opt)
		require.ErrorIs(t, err, c.want, name)
	}
	_, err := PChart([]Period{{5, 5}, {3, 3}}, ok)
	require.ErrorIs(t, err, ErrNoData, "all events")
	_, err = PChart([]Period{{6, 5}}, ok)
	require.ErrorIs(t, err, ErrBadInput, "more events than trials")
	one, err := UChart([]Period{{3, 5}}, ok)
	require.NoError(t, err)
	require.Zero(t, one.Points[0].Beyond)
	for _, opt := range []EWMAOptions{{}, {Weight: 1.1, Width: 3}, {Weight: math.NaN(), Width: 3}, {Weight: 0.2, Width: math.Inf(1)}, {Weight: 0.2}} {
		_, err = one.EWMA(opt)
		require.ErrorIs(t, err, ErrBadInput, "%+v", opt)
	}
	huge, err := UChart([]Period{{1e9, 1e9}, {1.001e9, 1e9}}, ok)
	require.NoError(t, err)
	require.Equal(t, []int{-1, 1}, flags(huge.Points))
}

// Exposure in other units, and splitting no period, leave flags as they are.
func TestChartScale(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		periods := rapid.SliceOfN(rapid.Custom(func(t *rapid.T) Period {
			return Period{float64(rapid.IntRange(0, 40).Draw(t, "events")), float64(rapid.IntRange(1, 99).Draw(t, "size"))}
		}), 1, 30).Draw(t, "periods")
		opt := ChartOptions{Width: 2.1, Laney: rapid.Bool().Draw(t, "laney")}
		c, err := UChart(periods, opt)
		if err != nil {
			require.ErrorIs(t, err, ErrNoData)
			return
		}
		scaled := make([]Period, len(periods))
		for i, p := range periods {
			scaled[i] = Period{p.Events, p.Size * 365.25}
		}
		d, err := UChart(scaled, opt)
		require.NoError(t, err)
		for i, p := range c.Points {
			q := d.Points[i]
			require.True(t, almost(q.Z, p.Z, 1e-9) && almost(q.Limits.High*365.25, p.Limits.High, 1e-9), "%+v %+v", p, q)
			require.True(t, p.Limits.Low <= c.Center && c.Center <= p.Limits.High)
		}
	})
}
