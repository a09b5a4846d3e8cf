package review

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/txtar"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"afterfit/internal/stats"
	"afterfit/internal/store"
)

// TestFreewayChanceByHand: two readings of SD 0.7 leave a difference of SD 0.99; on
// whole millimetres the middle value holds P(|Z| < 0.505) = 0.3865, its neighbours
// 0.2419. Nine of ten at one value: 10 x 0.3865^9 x 0.6135 + 0.3865^10 = 0.00126 in
// the middle and twice 0.00002 beside it. The other rows are from R 4 with
// sum(pbinom(k - 1, n, p, lower.tail = FALSE)) over p = pnorm(c + .5) - pnorm(c - .5).
func TestFreewayChanceByHand(t *testing.T) {
	for _, c := range []struct {
		m           modeCount
		p, expected float64
	}{
		{modeCount{n: 10, atMode: 9, wholes: 10, halves: 10}, 0.001299363553, 0.386494733872},
		{modeCount{n: 60, atMode: 30, wholes: 40, halves: 60}, 2.124833902e-07, 0.1993748593},
		{modeCount{n: 100, atMode: 40, wholes: 95, halves: 98}, 0.4284349394, 0.3864947339},
		{modeCount{n: 10, atMode: 2, wholes: 10, halves: 10}, 1, 0.386494733872},
	} {
		p, expected, err := freewayChance(c.m, 0.7)
		require.NoError(t, err)
		assert.InEpsilon(t, c.p, p, 1e-8, "%+v", c.m)
		assert.InEpsilon(t, c.expected, expected, 1e-8, "%+v", c.m)
	}
	_, _, err := freewayChance(modeCount{n: -1, atMode: 2}, 0.7)
	require.Error(t, err)
}

// TestSteps: one stray value in ten does not make the grid finer.
func TestSteps(t *testing.T) {
	assert.InDelta(t, 1, modeCount{n: 10, wholes: 9, halves: 9}.step(), 0)
	assert.InDelta(t, 0.5, modeCount{n: 10, wholes: 8, halves: 9}.step(), 0)
	assert.InDelta(t, 0.1, modeCount{n: 10, wholes: 8, halves: 8}.step(), 0)
}

// TestCellsMakeALaw: the cells are a whole law, and the largest stands first.
func TestCellsMakeALaw(t *testing.T) {
	for _, shift := range []float64{0, 0.5} {
		for _, step := range []float64{0.1, 0.5, 1} {
			var sum float64
			cells := normalCells(0.99, step, shift)
			for _, c := range cells {
				sum += c
				assert.LessOrEqual(t, c, cells[0])
			}
			assert.InDelta(t, 1, sum, 1e-7, "%g %g", step, shift)
		}
	}
}

// TestHonestReadersAreNotFlagged draws clinicians who read patients of one and the
// same freeway space, the worst case: p below 0.05 in no more than 5 %.
func TestHonestReadersAreNotFlagged(t *testing.T) {
	r := rand.New(rand.NewPCG(4, 11))
	const reviews, n = 1000, 40
	flagged := 0
	for range reviews {
		truth := 2 + r.Float64()
		counts := map[float64]int64{}
		for range n {
			counts[math.Round(truth+0.7*r.NormFloat64()-0.7*r.NormFloat64())]++
		}
		var most int64
		for _, k := range counts {
			most = max(most, k)
		}
		p, _, err := freewayChance(modeCount{n: n, atMode: most, wholes: n, halves: n}, 0.7)
		require.NoError(t, err)
		if p < 0.05 {
			flagged++
		}
	}
	assert.LessOrEqual(t, flagged, 66, "50 expected at the most, and two standard errors and a bit")
	assert.Positive(t, flagged, "a bound that never bites would be of no use")
}

func TestVerdicts(t *testing.T) {
	s := DefaultSettings()
	assert.Equal(t, AsExpected, sameVerdict(1, 0.001, s))
	assert.Equal(t, NearlyAlways, sameVerdict(0.8, 0.0009, s))
	assert.Equal(t, MoreAlike, sameVerdict(0.79, 0.0009, s))
	assert.Equal(t, CannotTell, sameVerdict(1, math.NaN(), s))
}

// modesBundle: D1 writes 3 mm and a display of 2 in all of 20 cases and takes the
// first tray in 19; D2 varies; D3 has two cases, too few to tell.
func modesBundle() *txtar.Archive {
	var cases, dentures, records, trays strings.Builder
	add := func(i int, who string, freeway, lip, display float64, tries int) {
		fmt.Fprintf(&cases, "K%03d,P%03d,S,%s,2024-01,,400,export\n", i, i, who)
		fmt.Fprintf(&dentures, "K%03d,upper,30\nK%03d,lower,30\n", i, i)
		fmt.Fprintf(&records, "K%03d,%g,%g,%g\n", i, freeway, lip, display)
		fmt.Fprintf(&trays, "K%03d,upper,%d\n", i, tries)
	}
	for i := range 20 {
		add(i, "D1", 3, 12+float64(i), 2, 1+i/19)
		add(20+i, "D2", 1+float64(i%4), 12+float64(i), float64(i%3), 1+i%2)
	}
	add(40, "D3", 2, 9, 1, 2)
	add(41, "D3", 4, 22, 1, 3)
	return &txtar.Archive{Files: []txtar.File{
		{Name: "cases.csv", Data: []byte("case_id,patient_key,site,clinician,records_on,remake_of,observed_to_day,observed_end\n" + cases.String())},
		{Name: "dentures.csv", Data: []byte("case_id,arch,delivered_day\n" + dentures.String())},
		{Name: "records.csv", Data: []byte("case_id,freeway_mm,lip_mm,display_target_mm\n" + records.String())},
		{Name: "trays.csv", Data: []byte("case_id,arch,tries\n" + trays.String())},
	}}
}

func modesAsker(t *testing.T) *asker {
	t.Helper()
	st := loaded(t, 1, bundleOf(t, modesBundle()))
	q, err := newAsker(context.Background(), st, DefaultSettings())
	require.NoError(t, err)
	t.Cleanup(func() { q.c.Close() })
	return q
}

func TestClinicianModes(t *testing.T) {
	table, clinicians, err := modesAsker(t).modes(context.Background())
	require.NoError(t, err)
	assert.Equal(t, []string{"D1", "D2", "D3"}, clinicians)
	assert.Equal(t, modeCount{"D1", "freeway_mm", 20, 20, 0, 1, 20, 20, 3}, table["freeway_mm"]["D1"])
	assert.Equal(t, modeCount{"D2", "freeway_mm", 20, 5, 5, 4, 20, 20, 1}, table["freeway_mm"]["D2"], "of four values alike the smallest")
	assert.Equal(t, modeCount{"D3", "display_target_mm", 1, 1, 1, 1, 1, 1, 1}, table["display_target_mm"]["D3"], "a lip of 9 mm suggests nothing")
	// Lips of 12 to 31 mm: 4 up to 15, 5 up to 20, 5 up to 25, 5 up to 30 and one longer.
	assert.Equal(t, modeCount{"D1", "display_suggested_mm", 20, 5, 0, 5, 0, 0, 0.93}, table["display_suggested_mm"]["D1"])
	assert.Equal(t, modeCount{"D1", "tries", 20, 19, 19, 2, 20, 20, 1}, table["tries"]["D1"])
}

func TestSameValues(t *testing.T) {
	got, err := modesAsker(t).sameValues(context.Background())
	require.NoError(t, err)
	require.Len(t, got, 9)
	by := map[string]SameValue{}
	for _, v := range got {
		by[v.Habit+" "+v.Clinician] = v
		assert.Equal(t, "clinician_modes", v.Share.Query)
	}
	for k, want := range map[string]string{
		"same_freeway D1": NearlyAlways, "same_freeway D2": AsExpected, "same_freeway D3": CannotTell,
		"same_display D1": NearlyAlways, "same_display D2": AsExpected, "same_display D3": CannotTell,
		// D2 and D3 took the first tray in 10 of 22: 19 of 20 is far more.
		"first_tray_always D1": NearlyAlways, "first_tray_always D2": AsExpected, "first_tray_always D3": CannotTell,
	} {
		assert.Equal(t, want, by[k].Verdict, k)
	}
	assert.InDelta(t, 25, float64(by["same_display D1"].Expected), 1e-9, "5 of 20")
	assert.InDelta(t, 100*10.0/22, float64(by["first_tray_always D1"].Expected), 1e-9)
	// 20 x 0.4545^19 x 0.5455 + 0.4545^20.
	r := 10.0 / 22
	assert.InEpsilon(t, 20*math.Pow(r, 19)*(1-r)+math.Pow(r, 20), float64(by["first_tray_always D1"].P), 1e-9)
	assert.False(t, by["same_freeway D3"].Expected.Known())

	alone, expected, err := firstTrayChance(modeCount{clinician: "D1", n: 20, atMode: 19, mode: 1}, map[string]modeCount{"D1": {n: 20}})
	require.NoError(t, err)
	assert.True(t, math.IsNaN(alone) && math.IsNaN(expected), "nobody to compare with")
	later, _, err := firstTrayChance(modeCount{clinician: "D1", n: 20, atMode: 19, mode: 2}, map[string]modeCount{"D2": {n: 20, atOne: 5}})
	require.NoError(t, err)
	assert.InDelta(t, 1, later, 0, "always the second tray is not always the first")
}

// TestReviewHoldsSameValuesAndShrunkShares looks at a whole review: shrunk shares lie
// between the clinician's own and all others', the smaller group being drawn further.
func TestReviewHoldsSameValuesAndShrunkShares(t *testing.T) {
	st := loaded(t, 1, bundleOf(t, modesBundle()))
	f := reviewOf(t, st)
	assert.Len(t, f.Same, 9)
	table := habitTable(t, f, "first_tray_used")
	require.Len(t, table.Clinicians, 3)
	units := make([]stats.UnitShare, 3)
	for i, v := range table.Clinicians {
		units[i] = stats.UnitShare{Events: float64(v.Estimate.Events), Trials: float64(v.Estimate.N)}
	}
	assert.Equal(t, []stats.UnitShare{{Events: 19, Trials: 20}, {Events: 10, Trials: 20}, {Events: 0, Trials: 2}}, units)
	s, err := stats.ShrinkShares(units, stats.ShrinkOptions{Level: 0.95})
	require.NoError(t, err)
	for i, v := range table.Clinicians {
		require.NotNil(t, v.Shrunk)
		assert.InDelta(t, 100*s.Units[i].Shrunk, float64(v.Shrunk.Value), 1e-9)
		assert.InDelta(t, 100*s.Units[i].Limits.High, float64(v.Shrunk.High), 1e-9)
		assert.Equal(t, v.Estimate.N, v.Shrunk.N)
	}
	assert.Greater(t, float64(table.Clinicians[2].Shrunk.Value), 5.0, "none of two is hardly a zero")
	assert.Less(t, float64(table.Clinicians[0].Shrunk.Value), 95.0)
	for _, v := range habitTable(t, f, "lip_not_recorded").Clinicians {
		assert.Nil(t, v.Shrunk, "nobody has it, so there is nothing to shrink to")
	}
	own, err := Summaries(context.Background(), st, DefaultSettings(), Header{}, nil, f)
	require.NoError(t, err)
	require.Len(t, own, 3)
	for i, one := range own {
		require.Len(t, one.Same, 3, "one of each clinician habit")
		for _, v := range one.Same {
			assert.Equal(t, one.Clinician, v.Clinician, "nobody else's")
		}
		for _, h := range one.Habits {
			if h.Habit == "first_tray_used" {
				assert.Equal(t, table.Clinicians[i].Shrunk, h.Shrunk)
			}
		}
	}
}

func reviewOf(t *testing.T, st *store.Store) *Findings {
	t.Helper()
	f, err := Run(context.Background(), st, DefaultSettings(), Header{})
	require.NoError(t, err)
	return f
}

func habitTable(t *testing.T, f *Findings, id string) HabitTable {
	t.Helper()
	for _, h := range f.Habits {
		if h.Habit == id {
			return h
		}
	}
	require.Fail(t, "no table", id)
	return HabitTable{}
}
