package stats

import (
	"math"
	"math/bits"
	"testing"

	"github.com/stretchr/testify/require"
)

// compare_monitor.R counts compositions of n with bounded parts; here it is a chain.
func TestRunsRulesAgainstR(t *testing.T) {
	ref, _ := loadMonitor(t)
	ref.Rules.rows(t, func(_ int, at func(string) float64) {
		r := RunsTest{Useful: int(at("n"))}.judged()
		require.Equal(t, int(at("longest")), r.LongestAllowed, "n = %d", r.Useful)
		require.Equal(t, int(at("needed")), r.CrossingsNeeded, "n = %d", r.Useful)
		require.True(t, almost(r.FalseSignal, at("falseSignal"), 1e-12), "n = %d: %g", r.Useful, r.FalseSignal)
		stricter := falseRunSignal(r.Useful, r.LongestAllowed-1, r.CrossingsNeeded)
		require.True(t, almost(stricter, at("falseSignalAtLongest"), 1e-12), "n = %d: %g", r.Useful, stricter)
	})
}

// Every sequence of signs, counted by hand of its bits.
func TestFalseRunSignalByEnumeration(t *testing.T) {
	for n := 1; n <= 14; n++ {
		for _, c := range [][2]int{{3, 1}, {5, 2}, {4, 4}, {6, 0}, {n + 1, n - 1}} {
			longest, needed := c[0], c[1]
			signals := 0
			for s := range 1 << n {
				crossings := bits.OnesCount(uint(s^s>>1) & (1<<(n-1) - 1))
				if crossings < needed || longestBits(s, n) > longest {
					signals++
				}
			}
			require.True(t, almost(falseRunSignal(n, longest, needed), float64(signals)/float64(int(1)<<n), 1e-14), "n %d, %v", n, c)
		}
	}
}

func longestBits(s, n int) int {
	longest, run := 1, 1
	for i := 1; i < n; i++ {
		if s>>i&1 == s>>(i-1)&1 {
			run++
		} else {
			run = 1
		}
		longest = max(longest, run)
	}
	return longest
}

// The joint counts for n = 14 that are printed, for sequences which start on one
// given side, by Wentzel-Larsen & Anhoj 2019 (crossings 2: longest 5 to 9 in 3, 12,
// 18, 15, 12 sequences; crossings 3: longest 4 to 6 in 10, 58, 78).
func TestFalseRunSignalPublishedCounts(t *testing.T) {
	quiet := func(longest, needed int) float64 { return 1 - falseRunSignal(14, longest, needed) }
	exactly := func(crossings, longest int) float64 {
		at := func(l int) float64 { return quiet(l, crossings) - quiet(l, crossings+1) }
		return (at(longest) - at(longest-1)) * (1 << 13)
	}
	for _, c := range [][3]int{{2, 5, 3}, {2, 6, 12}, {2, 7, 18}, {2, 8, 15}, {2, 9, 12}, {3, 4, 10}, {3, 5, 58}, {3, 6, 78}, {1, 7, 1}, {1, 8, 2}} {
		require.InDelta(t, float64(c[2]), exactly(c[0], c[1]), 1e-6, "%v", c)
	}
}

func TestRunsRulesByHand(t *testing.T) {
	values := []float64{1, 1, -1, 0, -1, 1, -1, -1, -1, -1, -1, -1, -1, 0, 1}
	r, err := RunsRules(values, 0)
	require.NoError(t, err)
	require.Equal(t, []int{13, 7, 4, 7, 3}, []int{r.Useful, r.LongestRun, r.Crossings, r.LongestAllowed, r.CrossingsNeeded})
	require.False(t, r.Shift || r.Few, "7 of 13 is still allowed")
	require.Empty(t, r.Warnings)
	r, err = RunsRules(append([]float64{5, -5}, append(values[:len(values)-1], -1)...), 0)
	require.NoError(t, err)
	require.Equal(t, 8, r.LongestRun, "points on the line neither make nor break a run")
	require.True(t, r.Shift)
	require.False(t, r.Few)
	r, err = RunsRules([]float64{1, 2, 3, 1, 2, 7, 8, 9, 8, 7, 6, 7}, 5)
	require.NoError(t, err)
	require.True(t, r.Few && !r.Shift, "%+v", r)
}

func TestRunsRulesHostile(t *testing.T) {
	for _, bad := range []float64{math.NaN(), math.Inf(1)} {
		_, err := RunsRules([]float64{1, bad}, 0)
		require.ErrorIs(t, err, ErrBadInput)
		_, err = RunsRules([]float64{1}, bad)
		require.ErrorIs(t, err, ErrBadInput)
	}
	for _, none := range [][]float64{nil, {2, 2, 2}} {
		_, err := RunsRules(none, 2)
		require.ErrorIs(t, err, ErrNoData)
	}
	_, err := RunsRules(make([]float64, maxRunPoints+1), 1)
	require.ErrorIs(t, err, ErrBadInput)
	one, err := RunsRules([]float64{3}, 2)
	require.NoError(t, err)
	require.False(t, one.Shift || one.Few)
	require.Equal(t, "few-points", one.Warnings[0].Code)
	long, err := RunsRules(make([]float64, maxRunPoints), 1)
	require.NoError(t, err)
	require.True(t, long.Shift && long.Few)
	require.True(t, long.FalseSignal > 0.03 && long.FalseSignal < 0.12, "%g", long.FalseSignal)
}

// Worked values by the formula, with half the points on either side; they agree
// with Swed & Eisenhart's table as remembered.
func TestRunsAcceptedWorkedValues(t *testing.T) {
	for _, c := range [][4]int{{5, 5, 3, 9}, {7, 8, 5, 12}, {10, 10, 7, 15}, {12, 12, 8, 18}, {15, 15, 11, 21}} {
		fewest, most, err := RunsAccepted(c[0], c[1], 0.95)
		require.NoError(t, err)
		require.Equal(t, []int{c[2], c[3]}, []int{fewest, most}, "%v", c)
	}
	for _, bad := range []struct {
		a, b  int
		level float64
	}{{0, 3, 0.95}, {3, -1, 0.95}, {3, maxRunPoints + 1, 0.95}, {3, 3, 1}, {3, 3, math.NaN()}} {
		_, _, err := RunsAccepted(bad.a, bad.b, bad.level)
		require.ErrorIs(t, err, ErrBadInput, "%+v", bad)
	}
	fewest, most, err := RunsAccepted(1, 1, 0.95)
	require.NoError(t, err)
	require.Equal(t, []int{2, 2}, []int{fewest, most})
}

// Every order of a above and b below, counted.
func TestRunsProbByEnumeration(t *testing.T) {
	for _, c := range [][2]int{{1, 4}, {3, 3}, {5, 7}, {6, 2}} {
		counts, total := map[int]float64{}, 0.0
		n := c[0] + c[1]
		for s := range 1 << n {
			if bits.OnesCount(uint(s)) == c[0] {
				counts[1+bits.OnesCount(uint(s^s>>1)&(1<<(n-1)-1))]++
				total++
			}
		}
		for r := 2; r <= n; r++ {
			require.True(t, almost(runsProb(c[0], c[1], r), counts[r]/total, 1e-12), "%v, %d runs", c, r)
		}
	}
}
