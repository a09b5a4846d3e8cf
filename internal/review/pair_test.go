package review

import (
	"context"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// referenceRatio is one comparison of testdata/reference/pair_within.json (R 4.2.2,
// sandwich 3.0-2): Poisson regressions of the clean bundle's dentures.
type referenceRatio struct {
	Log, Variance, With, Difference, SD float64
	N, Patients                         int64
}

// TestPairsAgreeWithR compares the three ways to compare, fitted from patterns and
// strata, with regressions on rows. Bands of expected trouble are left at one by making
// room for more clinicians than there are; TestBandsByHand cuts them.
func TestPairsAgreeWithR(t *testing.T) {
	raw, err := os.ReadFile("../../testdata/reference/pair_within.json")
	require.NoError(t, err)
	var ref struct {
		Answers map[string]map[string]struct{ Crude, Mix, Within referenceRatio }
	}
	require.NoError(t, json.Unmarshal(raw, &ref))
	ctx := context.Background()
	q, err := newAsker(ctx, cleanStore(t), DefaultSettings())
	require.NoError(t, err)
	defer q.c.Close()
	d, err := q.dentures(ctx)
	require.NoError(t, err)
	columns := []string{"ridge_class", "sex", "prior_denture"}
	basis := newPairBasis(d, 15)
	compared := 0
	for _, outcome := range []string{Adjustments, SoreSpots} {
		for id, want := range ref.Answers {
			f := newPairFit("h_"+id, outcome, columns)
			require.NoError(t, q.fitPairs(ctx, []*pairFit{f}, basis))
			require.Equal(t, 1, f.mix.bands)
			for _, c := range []struct {
				name string
				got  *view
				want referenceRatio
			}{{"crude", &f.crude, want[outcome].Crude}, {"mix", &f.byMix, want[outcome].Mix}, {"within", &f.within, want[outcome].Within}} {
				compared++
				what := fmt.Sprintf("%s, %s, %s", id, outcome, c.name)
				assert.Equal(t, c.want.N, c.got.n[0]+c.got.n[1], what)
				assert.True(t, near(c.got.log, c.want.Log, 1e-7), "%s: ratio %v, R has %v", what, c.got.log, c.want.Log)
				assert.True(t, near(c.got.with, c.want.With, 1e-8), "%s: with %v, R has %v", what, c.got.with, c.want.With)
				assert.True(t, near(c.got.difference, c.want.Difference, 1e-7), "%s: difference %v, R has %v", what, c.got.difference, c.want.Difference)
				robust := float64(f.patients) / float64(f.patients-1) * c.got.score / c.got.info / c.got.info
				assert.True(t, near(1e3*robust, 1e3*c.want.Variance, 1e-5), "%s: variance %v, R has %v", what, robust, c.want.Variance)
				if c.got.inflate == 1 {
					assert.True(t, near(c.got.sdD, c.want.SD, 1e-5), "%s: sd %v, R has %v", what, c.got.sdD, c.want.SD)
				}
				assert.GreaterOrEqual(t, c.got.variance, robust*(1-1e-12), what)
			}
			assert.Equal(t, want[outcome].Within.Patients, f.patients, id)
		}
	}
	assert.Equal(t, 18, compared)
}

// handCells are strata by hand: in the first 3
// events on 4 dentures without the habit and 6 on 2 with it; in the second nobody
// without; in the third 2 on 2 against 4 on 1, so that the ratio is 4 in both that tell.
func handCells() []pairCell {
	side := func(n, y int64) pairSide { return pairSide{n: n, y: y, share: n * 1e9, size: n * 1e9} }
	return []pairCell{{side(4, 3), side(2, 6)}, {pairSide{}, side(5, 9)}, {side(2, 2), side(1, 4)}}
}

func TestStrataByHand(t *testing.T) {
	var v view
	require.NoError(t, v.stratified(handCells(), func(int) bool { return true }))
	require.True(t, v.ok)
	assert.InDelta(t, math.Log(4), v.log, 1e-12)
	assert.Equal(t, [2]int64{6, 3}, v.n)
	assert.Equal(t, [2]int64{5, 10}, v.events)
	assert.Equal(t, int64(5), v.leftOut)
	assert.Equal(t, 2, v.strata)
	assert.InDelta(t, 10.0/3, v.exposedRate(), 1e-12)
}

func TestNobodyToCompareWith(t *testing.T) {
	cells := handCells()
	for name, take := range map[string]func(int) bool{"a habit that everyone has": func(i int) bool { return i == 1 }, "no stratum": func(int) bool { return false }} {
		var v view
		require.NoError(t, v.stratified(cells, take), name)
		assert.False(t, v.ok, name)
	}
	cells[0][1].y, cells[2][1].y = 0, 0
	var v view
	require.NoError(t, v.stratified(cells, func(int) bool { return true }), "no event with the habit")
	assert.False(t, v.ok)
}

// Four mixes of 10, 20, 10 and 40 dentures in the order of expected trouble cut into
// two bands: the middle of each mix lies at 5, 20, 35 and 60 of 80, so half lies
// between the third and the fourth.
func TestBandsByHand(t *testing.T) {
	f := &mixFit{bands: 2}
	for _, rate := range []float64{3, 1, 2, 2} {
		f.ways = append(f.ways, mixWay{rate: rate}, mixWay{rate: rate})
	}
	n := []int64{40, 10, 20, 10}
	var patterns []mixPattern
	for i, k := range n {
		patterns = append(patterns, mixPattern{mix: i + 1, side: i % 2, n: k}, mixPattern{mix: i + 1, side: -1, n: 500})
	}
	f.cutBands(patterns)
	for i, band := range []int{1, 0, 0, 0} {
		assert.Equal(t, [2]int{band, band}, [2]int{f.ways[2*i].band, f.ways[2*i+1].band}, "mix %d", i+1)
	}
}

// Levels by hand: "b" and "c" have too few events each, and together enough; "d" alone
// and too few joins the most common.
func TestLevelsByHand(t *testing.T) {
	c := coding{names: [][]string{{"a", "b", "c", "d"}}, of: [][]int{{0}, {1}, {2}, {3}}}
	patterns := []mixPattern{{mix: 1, n: 500, y: 100}, {mix: 2, n: 60, y: 3}, {mix: 3, n: 60, y: 4}, {mix: 4, n: 70, y: 9}}
	d := c.mergeLevels(0, patterns, 1)
	assert.Equal(t, []string{"d", rareLevel}, d.names)
	assert.Equal(t, []int{-1, 1, 1, 0}, d.to)
	patterns[2].y, patterns[3].y = 0, 1
	d = c.mergeLevels(0, patterns, 1)
	assert.Empty(t, d.names, "4 events of the three together are too few, and they join the most common")
	assert.Equal(t, []int{-1, -1, -1, -1}, d.to)
}

// A denture in which the habit cannot be told: 4 of them, one with 2 events. At worst it
// was made with the habit and the three others without.
func TestBoundsByHand(t *testing.T) {
	b := bounds([]mixPattern{
		{side: 1, n: 10, y: 20, share: 10e9}, {side: 0, n: 10, y: 10, share: 10e9},
		{side: -1, n: 4, y: 2, share: 4e9, shared: 1e9}})
	assert.InDelta(t, 20.0/13/(12.0/11), float64(b[0]), 1e-12)
	assert.InDelta(t, 22.0/11/(10.0/13), float64(b[1]), 1e-12)
}

// TestGradesByTheRules walks each rule that keeps a pair from being clear.
func TestGradesByTheRules(t *testing.T) {
	good := func() Pair {
		r := func(v, low, high float64) Estimate { return Estimate{Value: Num(v), Low: Num(low), High: Num(high)} }
		return Pair{Direction: "more", Stated: true, Q: 0.01, ELimit: 1.7, Seen: 1.25, Within: Comparison{Ratio: r(1.4, 1.2, 1.6)}, CaseMix: Comparison{Ratio: r(1.3, 1.1, 1.5)}}
	}
	for name, c := range map[string]struct {
		change func(*Pair)
		want   Grade
		held   string
	}{
		"nothing in the way":      {func(*Pair) {}, Clear, ""},
		"not stated":              {func(p *Pair) { p.Stated = false }, Likely, heldStated},
		"unsure among many":       {func(p *Pair) { p.Q = 0.1 }, Likely, heldQ},
		"chance among many":       {func(p *Pair) { p.Q = 0.3 }, Unclear, heldQ},
		"weak hidden cause":       {func(p *Pair) { p.ELimit = 1.1 }, Likely, heldHidden},
		"case mix disagrees":      {func(p *Pair) { p.CaseMix.Ratio.Value = 0.9 }, Unclear, heldCaseMix},
		"the other way":           {func(p *Pair) { p.Within.Ratio = Estimate{Value: 0.7, Low: 0.6, High: 0.8}; p.CaseMix.Ratio.Value = 0.7 }, Likely, heldSide},
		"interval holds 1":        {func(p *Pair) { p.Within.Ratio.Low = 0.95 }, Unclear, heldInterval},
		"nothing worth seeing":    {func(p *Pair) { p.Within.Ratio = Estimate{Value: 1.02, Low: 0.9, High: 1.2} }, NoSign, heldInterval},
		"fewer cannot be told":    {func(p *Pair) { p.Within.Ratio = Estimate{Value: 1.02, Low: 0.5, High: 1.2} }, NoSign, heldInterval},
		"either needs both sides": {func(p *Pair) { p.Direction = "either"; p.Within.Ratio = Estimate{Value: 1.02, Low: 0.5, High: 1.2} }, Unclear, heldInterval},
		"too few":                 {func(p *Pair) { p.Within.Ratio.TooFew = "few" }, TooFew, heldFew},
	} {
		p := good()
		c.change(&p)
		p.grade()
		assert.Equal(t, c.want, p.Grade, name)
		if c.held != "" {
			assert.Contains(t, p.Held, c.held, name)
		} else {
			assert.Empty(t, p.Held, name)
		}
	}
}

// One habit's several faces stand for one finding, and a clear one comes before a likely
// one however strong.
func TestStrongestTakesEachHabitOnce(t *testing.T) {
	pair := func(id string, grade Grade, ratio, wide float64) Pair {
		return Pair{ID: id, Habit: id[:len(id)-len(".adjustment_visits")], Outcome: Adjustments, Grade: grade,
			Within: Comparison{Ratio: Estimate{Value: Num(ratio), Low: Num(ratio / wide), High: Num(ratio * wide)}}}
	}
	got := strongestPairs([]Pair{
		pair("no_remount.adjustment_visits", Likely, 3, 1.1), pair("clearance_uneven.adjustment_visits", Clear, 1.3, 1.1), pair("clearance_over_2.adjustment_visits", Clear, 1.4, 1.1),
		pair("partial_seating_used.adjustment_visits", Clear, 0.5, 1.1), pair("freeway_low.adjustment_visits", NoSign, 1.1, 1.3)}, 3)
	require.Len(t, got, 2)
	assert.Equal(t, "clearance_over_2", got[0].Habit)
	assert.Equal(t, "no_remount", got[1].Habit)
}
