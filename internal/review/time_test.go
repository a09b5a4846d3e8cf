package review

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"afterfit/internal/stats"
)

func TestPeriods(t *testing.T) {
	for _, c := range []struct{ kind, period, name string }{
		{byMonth, "2023-07", "2023-07"}, {byMonth, "2023-Q3", "2023-07"}, {byMonth, "2023", "2023-01"}, {byMonth, "2023-12-31", "2023-12"},
		{byQuarter, "2023-07", "2023-Q3"}, {byQuarter, "2023-Q4", "2023-Q4"}, {byQuarter, "2023-12-31", "2023-Q4"},
		{byYear, "2023-07", "2023"}, {byYear, "2023", "2023"},
	} {
		n, err := periodNumber(c.kind, c.period)
		require.NoError(t, err, c.period)
		assert.Equal(t, c.name, periodName(c.kind, n), "%s as %s", c.period, c.kind)
		next := periodName(c.kind, n+1)
		m, err := periodNumber(c.kind, next)
		require.NoError(t, err)
		assert.Equal(t, n+1, m, "after %s comes %s", c.name, next)
	}
	for _, bad := range []string{"", "202", "2023-", "2023-Q5", "2023-13", "2023-00", "July 2023", "2023-7", "2023-07-1"} {
		_, err := periodNumber(byMonth, bad)
		assert.Error(t, err, bad)
	}
}

func seriesOf(observed []int64, expected float64) *timeSeries {
	s := &timeSeries{first: 2023 * 12}
	for _, o := range observed {
		s.sums = append(s.sums, timeSum{n: 20, observed: o, expected: expected, share: 20})
	}
	return s
}

// TestShiftIsNamed: 24 months, the last ten above the median, which seven others lie
// on. With 17 useful points the longest run allowed is round(log2 17) + 3 = 7 (Anhoj &
// Olesen 2014).
func TestShiftIsNamed(t *testing.T) {
	q := &asker{s: DefaultSettings()}
	var o []int64
	for i := range 24 {
		switch {
		case i >= 14:
			o = append(o, 31)
		case i%2 == 0:
			o = append(o, 27)
		default:
			o = append(o, 28)
		}
	}
	c, err := q.timeChart(seriesOf(o, 29), byMonth, 24, 1.5)
	require.NoError(t, err)
	assert.Equal(t, []string{ruleShift, ruleCrossings}, c.Broken)
	assert.Equal(t, 7, c.RunAllowed)
	assert.Equal(t, 10, c.LongestRun)

	o[5] = 90
	c, err = q.timeChart(seriesOf(o, 29), byMonth, 24, 1.5)
	require.NoError(t, err)
	assert.Contains(t, c.Broken, ruleBeyond)
	assert.Equal(t, 1, c.Points[5].Beyond)
	assert.InDelta(t, 150*90./29, float64(c.Points[5].Value), 1e-9)
}

// TestImmaturePeriodsTakeNoPart: the last months hold a third of their share and wild
// counts, which change neither limits nor rules.
func TestImmaturePeriodsTakeNoPart(t *testing.T) {
	q := &asker{s: DefaultSettings()}
	calm := []int64{29, 31, 28, 30, 27, 32, 30, 29, 31, 28, 30, 31}
	before, err := q.timeChart(seriesOf(calm, 30), byMonth, 12, 1.5)
	require.NoError(t, err)
	s := seriesOf(append(append([]int64{}, calm...), 40, 40), 30)
	for i := 12; i < 14; i++ {
		s.sums[i].share, s.sums[i].expected = 6, 9
	}
	require.Equal(t, 12, q.mature(s))
	c, err := q.timeChart(s, byMonth, 12, 1.5)
	require.NoError(t, err)
	assert.Equal(t, before.Center, c.Center)
	assert.Equal(t, before.Points[0].High, c.Points[0].High)
	assert.Empty(t, c.Broken)
	assert.True(t, c.Points[12].Immature && !c.Points[11].Immature)
	assert.Zero(t, c.Points[13].Beyond, "no verdict on an immature month")
}

// TestCusumLimitHasTheRunLengthAskedFor sets the quick search beside the exhaustive one.
func TestCusumLimitHasTheRunLengthAskedFor(t *testing.T) {
	for _, levels := range [][]float64{{8, 9, 10, 11, 12}, {0.4, 0.5, 0.5, 0.6}, {0.02}} {
		limit, length, err := cusumLimit(levels, 1.5, 1.3, 120)
		require.NoError(t, err)
		law, err := scoreLaw(levels, 1.5, 1, 1.3)
		require.NoError(t, err)
		smallest, _, err := stats.CusumLimit(law, 120)
		require.NoError(t, err)
		assert.GreaterOrEqual(t, length, 120.0)
		// Where run lengths jump the exhaustive search goes just past the jump.
		assert.GreaterOrEqual(t, limit, 0.99*smallest)
		assert.LessOrEqual(t, limit, 1.05*smallest)
	}
}

// TestCusumOfManyEvents: in months of a thousand events and more, chance alone reaches
// no limit, however low. The limit then stands where the raised rate is as many times
// as likely as it is high, and a unit at the expected rate stays silent under it.
func TestCusumOfManyEvents(t *testing.T) {
	q := &asker{s: DefaultSettings()}
	for _, expected := range []float64{1000, 4000, 60_000} {
		o := make([]int64, 12)
		for i := range o {
			o[i] = int64(expected) + int64(i%3)*int64(math.Sqrt(expected))
		}
		c, err := q.cusum(seriesOf(o, expected), byMonth, 12, 2)
		require.NoError(t, err, expected)
		require.Empty(t, c.TooFew)
		assert.InDelta(t, math.Log(c.Ratio), float64(c.Limit), 1e-12)
		assert.GreaterOrEqual(t, float64(c.RunLength), 360.0)
		assert.Empty(t, c.Signals)
		o[7] = int64(1.4 * expected)
		c, err = q.cusum(seriesOf(o, expected), byMonth, 12, 2)
		require.NoError(t, err)
		assert.Equal(t, []string{c.Points[7].Period}, c.Signals)
	}
}

func TestCusumFindsARaisedUnitAndStartsAgain(t *testing.T) {
	q := &asker{s: DefaultSettings()}
	o := []int64{10, 9, 11, 10, 10, 10, 20, 20, 20, 20, 10, 10}
	c, err := q.cusum(seriesOf(o, 10), byMonth, 12, 1)
	require.NoError(t, err)
	require.Empty(t, c.TooFew)
	assert.NotEmpty(t, c.Signals)
	assert.Equal(t, "2023-08", c.Signals[0], "two doubled months are enough")
	score := 20*math.Log(1.5) - 10*0.5
	assert.InDelta(t, 2*score, float64(c.Points[7].Value), 1e-9)
	c, err = q.cusum(seriesOf(o, 0.1), byMonth, 12, 1)
	require.NoError(t, err)
	assert.Contains(t, c.TooFew, "Too few")
}

// TestHabitsOverTimeAddUp sets every habit's course beside its share in all, counted
// by another statement.
func TestHabitsOverTimeAddUp(t *testing.T) {
	f := cleanReview(t)
	compared := 0
	for _, h := range f.Habits {
		sums := map[string][2]int64{}
		for _, c := range f.HabitTimes {
			if c.Outcome == HabitPrefix+h.Habit {
				s := sums[c.Dimension]
				for _, p := range c.Points {
					s[0], s[1] = s[0]+p.Observed, s[1]+p.N
				}
				sums[c.Dimension] = s
			}
		}
		want := [2]int64{h.All.Events, h.All.N}
		assert.Equal(t, want, sums["all"], h.Habit)
		if h.Habit == "clearance_over_2" { // the one that a change was to move
			assert.Equal(t, want, sums["site"], "the sites together")
			compared++
		} else {
			assert.Zero(t, sums["site"], h.Habit)
		}
	}
	assert.Equal(t, 1, compared)
	assert.Greater(t, len(f.HabitTimes), 25)
}

// TestHabitChartByHand: nine months of 10 in 50 and one of 30 in 50. The share of all
// is 120 in 500, so the limits are 24 % plus or minus three times the root of
// 0.24 x 0.76 / 50: 5.9 % and 42.1 %. The moving range would narrow them and is not used.
func TestHabitChartByHand(t *testing.T) {
	s := habitSeries{}
	for i := range 10 {
		s[24+i] = stats.Period{Events: 10, Size: 50}
	}
	s[33] = stats.Period{Events: 30, Size: 50}
	s[35] = stats.Period{Events: 0, Size: 0}
	c, err := habitChart(s, byMonth, 24, 35)
	require.NoError(t, err)
	require.Len(t, c.Points, 12)
	assert.InDelta(t, 24, float64(c.Center), 1e-12)
	spread := 100 * math.Max(1, float64(c.SigmaZ)) * 3 * math.Sqrt(0.24*0.76/50)
	assert.InDelta(t, 24+spread, float64(c.Points[0].High), 1e-9)
	assert.InDelta(t, math.Max(0, 24-spread), float64(c.Points[0].Low), 1e-9)
	assert.Equal(t, []string{ruleBeyond}, c.Broken)
	assert.Equal(t, 1, c.Points[9].Beyond)
	assert.False(t, c.Points[10].Value.Known(), "a month without records has no share")
	never, err := habitChart(habitSeries{1: {Events: 0, Size: 9}, 2: {Events: 0, Size: 9}}, byMonth, 1, 2)
	require.NoError(t, err)
	assert.False(t, never.Center.Known(), "a habit that nobody shows has nothing to judge")
	assert.Empty(t, never.Broken)
}
