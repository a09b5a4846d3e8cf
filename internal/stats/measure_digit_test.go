package stats

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

var wholeMillimetres = DigitGrid{Step: 10, Cycle: 50}

// Worked by hand: 20 readings in tenths of a millimetre, 8 of them ending in 0 or 5 mm
// and 3 at each other digit: expected 4 each, chi-square (16+1+1+1+1)/4 = 5, and with
// four degrees of freedom P = exp(-2.5)(1 + 2.5).
func TestDigitPreferenceByHand(t *testing.T) {
	readings := []ReadingCount{{650, 5}, {700, 3}, {660, 3}, {670, 2}, {-30, 1}, {680, 3}, {690, 3}, {655, 4}}
	// -30 is two steps above -50.
	d, err := DigitPreferenceOf([][]ReadingCount{readings}, wholeMillimetres, DefaultBootstrap)
	require.NoError(t, err)
	require.Equal(t, []int64{8, 3, 3, 3, 3}, d.Counts)
	require.Equal(t, int64(20), d.N)
	require.Equal(t, int64(4), d.OffGrid)
	require.InDelta(t, 0.4, d.Share, 1e-15)
	require.InDelta(t, 0.2, d.Expected, 1e-15)
	require.InDelta(t, 5, d.ChiSquare, 1e-12)
	require.Equal(t, 4, d.DF)
	require.True(t, relative(d.P, math.Exp(-2.5)*3.5, 1e-12))
	require.Equal(t, []string{"few-expected", "off-grid"}, []string{d.Warnings[0].Code, d.Warnings[1].Code})
}

// Drawn one by one, the bootstrap law of the share is binomial; its quantiles are exact.
func TestDigitLimitsAgainstTheBinomialLaw(t *testing.T) {
	for _, c := range []struct{ favoured, others int64 }{{8, 12}, {400, 600}, {300000, 700000}} {
		n := c.favoured + c.others
		d, err := DigitPreferenceOf([][]ReadingCount{{{0, c.favoured}, {10, c.others}}}, wholeMillimetres, BootstrapOptions{Replicates: 20000, Seed: 4, Level: 0.9})
		require.NoError(t, err)
		p := float64(c.favoured) / float64(n)
		slack := 1.5/float64(n) + 0.06*math.Sqrt(p*(1-p)/float64(n))
		for q, got := range map[float64]float64{0.05: d.Limits.Low, 0.95: d.Limits.High} {
			k, err := BinomialQuantile(q, n, p)
			require.NoError(t, err)
			require.InDelta(t, float64(k)/float64(n), got, slack, "%v at %g", c, q)
		}
	}
}

// Readers who each always or never round must widen the limits far beyond those of
// single readings.
func TestDigitLimitsDrawWholeGroups(t *testing.T) {
	var groups [][]ReadingCount
	var pooled []ReadingCount
	for i := range 40 {
		g := []ReadingCount{{int64(10 * (i % 2)), 50}}
		groups, pooled = append(groups, g), append(pooled, g...)
	}
	clustered, err := DigitPreferenceOf(groups, wholeMillimetres, DefaultBootstrap)
	require.NoError(t, err)
	single, err := DigitPreferenceOf([][]ReadingCount{pooled}, wholeMillimetres, DefaultBootstrap)
	require.NoError(t, err)
	require.InEpsilon(t, math.Sqrt(50), (clustered.Limits.High-clustered.Limits.Low)/(single.Limits.High-single.Limits.Low), 0.1)
	require.Equal(t, single.ChiSquare, clustered.ChiSquare)
}

func TestDigitProperties(t *testing.T) {
	o := BootstrapOptions{Replicates: 40, Seed: 1, Level: 0.9}
	rapid.Check(t, func(t *rapid.T) {
		values := rapid.SliceOfN(rapid.Int64Range(-400, 900), 1, 40).Draw(t, "values")
		var one, scaled []ReadingCount
		for i := range values {
			one = append(one, ReadingCount{values[i], 2})
			v := values[len(values)-1-i]*10 + 500
			scaled = append(scaled, ReadingCount{v, 1}, ReadingCount{v, 1})
		}
		a, err := DigitPreferenceOf([][]ReadingCount{one}, wholeMillimetres, o)
		b, err2 := DigitPreferenceOf([][]ReadingCount{scaled}, DigitGrid{100, 500}, o)
		if (err == nil) != (err2 == nil) {
			t.Fatal(err, err2)
		}
		if err != nil {
			return
		}
		if a.ChiSquare != b.ChiSquare || a.Limits != b.Limits || a.OffGrid != b.OffGrid || a.N+a.OffGrid != int64(2*len(values)) {
			t.Fatalf("order, splitting, unit or a whole cycle mattered: %v %v", a, b)
		}
		if !(a.Limits.Low <= a.Limits.High && a.Limits.Low >= 0 && a.Limits.High <= 1 && a.P >= 0 && a.P <= 1) {
			t.Fatalf("%v", a)
		}
	})
}

func TestDigitPreferenceOnHostileInput(t *testing.T) {
	good := [][]ReadingCount{{{10, 1}}}
	for _, g := range []DigitGrid{{0, 5}, {1, 1}, {2, 5}, {-1, 5}, {1, 20000}} {
		_, err := DigitPreferenceOf(good, g, DefaultBootstrap)
		require.ErrorIs(t, err, ErrBadInput)
	}
	for _, groups := range [][][]ReadingCount{nil, {{}}, {{{10, 0}}}, {{{3, 9}}}} {
		_, err := DigitPreferenceOf(groups, wholeMillimetres, DefaultBootstrap)
		require.ErrorIs(t, err, ErrNoData)
	}
	for _, n := range []int64{-1, math.MaxInt64} {
		_, err := DigitPreferenceOf([][]ReadingCount{{{10, n}}}, wholeMillimetres, DefaultBootstrap)
		require.ErrorIs(t, err, ErrBadInput)
	}
	_, err := DigitPreferenceOf(good, wholeMillimetres, BootstrapOptions{})
	require.ErrorIs(t, err, ErrBadInput)
	d, err := DigitPreferenceOf([][]ReadingCount{{{50, 10}}}, wholeMillimetres, DefaultBootstrap)
	require.NoError(t, err)
	want, err := ClopperPearson(10, 10, 0.95)
	require.NoError(t, err)
	require.Equal(t, want, d.Limits)
	d, err = DigitPreferenceOf([][]ReadingCount{{{50, 10}}, {{0, 3}}}, wholeMillimetres, DefaultBootstrap)
	require.NoError(t, err)
	require.Equal(t, "all-alike", d.Warnings[len(d.Warnings)-1].Code)
}

// Readers who all round alike but read unequally often leave nothing uncertain: the share
// of a resample is over the readings drawn, not over all.
func TestDigitSharesAreOfTheReadingsDrawn(t *testing.T) {
	var groups [][]ReadingCount
	for i := range int64(30) {
		groups = append(groups, []ReadingCount{{0, 1 + i}, {10, 1 + i}})
	}
	d, err := DigitPreferenceOf(groups, wholeMillimetres, DefaultBootstrap)
	require.NoError(t, err)
	require.Equal(t, Interval{0.5, 0.5}, d.Limits)
}
