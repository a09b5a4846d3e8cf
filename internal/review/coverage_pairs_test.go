//go:build coverage

package review

import (
	"context"
	"encoding/json"
	"math"
	"slices"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"afterfit/internal/habit"
	"afterfit/internal/stats"
)

// worldCases make about 3,000 dentures.
const worldCases = 1620

// eachWorld answers hypotheses in worlds with the effects given, two at a time, and
// hands each world's pairs over in the order of their seeds.
func eachWorld(t *testing.T, hypotheses []habit.Hypothesis, first uint64, worlds int, effect planted, seen func(w *world, pairs []Pair)) {
	t.Helper()
	type answer struct {
		w     *world
		pairs []Pair
	}
	answers := make([]answer, worlds)
	var wg sync.WaitGroup
	for k := range 2 {
		st := worldStore(t)
		wg.Go(func() {
			for i := k; i < worlds; i += 2 {
				w := newWorld(first+uint64(i), worldCases, effect)
				q := w.put(t, st)
				pairs, err := q.pairFindings(context.Background(), hypotheses)
				if !assert.NoError(t, err) || !assert.NoError(t, q.c.Close()) {
					return
				}
				answers[i] = answer{w, pairs}
			}
		})
	}
	wg.Wait()
	require.False(t, t.Failed())
	for _, a := range answers {
		seen(a.w, a.pairs)
	}
}

// crudeOnly grades the crude comparisons by the same rules, as a review without case
// mix and clinicians would.
func crudeOnly(t *testing.T, pairs []Pair) []Pair {
	t.Helper()
	out := make([]Pair, len(pairs))
	for i, p := range pairs {
		p.Within, p.CaseMix = p.Crude, p.Crude
		if r := p.Crude.Ratio; r.TooFew == "" && r.Low.Known() && r.High.Known() {
			se := math.Log(float64(r.High/r.Low)) / 2 / stats.TwoSidedZ(r.Level)
			low, high := stats.NormalTails(math.Abs(math.Log(float64(r.Value))) / se)
			p.P = Num(math.Min(1, 2*math.Min(low, high)))
			e, err := stats.EValueRatio(float64(r.Value), stats.Interval{Low: float64(r.Low), High: float64(r.High)})
			require.NoError(t, err)
			p.ELimit = Num(e.Limit)
		}
		out[i] = p
	}
	require.NoError(t, rankPairs(out))
	return out
}

func clearOnes(pairs []Pair) (ids []string) {
	for _, p := range pairs {
		if p.Grade == Clear && !p.Control {
			ids = append(ids, p.ID)
		}
	}
	return ids
}

// TestCoverageOfPairsWithoutEffects: in services of 3 sites, 15 clinicians and 3,000
// dentures whose habits go with case mix and with clinician and have no effect, at
// most 5 % of reviews show any clear finding. Crude comparisons would in most.
func TestCoverageOfPairsWithoutEffects(t *testing.T) {
	const worlds = 200
	var wrong, crude, crudeFindings, told, outside int
	eachWorld(t, habitHypotheses(), 1, worlds, planted{}, func(_ *world, pairs []Pair) {
		found := clearOnes(pairs)
		wrong += one(len(found) > 0)
		byCrude := clearOnes(crudeOnly(t, pairs))
		crude, crudeFindings = crude+one(len(byCrude) > 0), crudeFindings+len(byCrude)
		for _, p := range pairs {
			if r := p.Within.Ratio; r.TooFew == "" && r.Low.Known() {
				told++
				outside += one(r.Low > 1 || r.High < 1)
			}
		}
	})
	t.Logf("reviews with a clear finding: %d of %d; by crude comparison: %d, with %.1f findings each", wrong, worlds, crude, float64(crudeFindings)/worlds)
	t.Logf("95 %% limits that leave out 1: %.4f of %d", float64(outside)/float64(told), told)
	assert.LessOrEqual(t, wrong, worlds*5/100)
	assert.Greater(t, crude, worlds/2, "the worlds must mislead a crude comparison, or they prove nothing")
	assert.Greater(t, told, 30*worlds, "most hypotheses must be answered")
	assert.InDelta(t, 0.05, float64(outside)/float64(told), 0.02)
}

// trueEffects are those of plantedWorld by hypothesis. Those of a thick palate and of
// space under the tray come down the chain: the chance of a low freeway space is 0.55
// with a thick palate and 0.12 without, that of a thick palate 0.7 and 0.15.
func trueEffects() (effect planted, ratios map[string]float64) {
	const low, remount, centric, remade = 1.8, 1.4, 2.0, 2.0
	through := func(share float64) float64 { return 1 + (low-1)*share }
	palate := through(0.55) / through(0.12)
	tray := through(0.7*0.55+0.3*0.12) / through(0.15*0.55+0.85*0.12)
	return planted{freeway: map[string]float64{Adjustments: low, SoreSpots: low, Remake: remade}, remount: remount, centric: centric},
		map[string]float64{
			"freeway_low.adjustment_visits": low, "freeway_low.early_sore_spots": low, "freeway_low.remake": remade,
			"palate_bulk.adjustment_visits": palate, "palate_bulk.early_sore_spots": palate,
			"clearance_over_2.adjustment_visits": tray, "clearance_over_2.early_sore_spots": tray,
			"no_remount.adjustment_visits": remount, "one_centric_take.remake": centric,
		}
}

// quietHabits have no path to any outcome in a planted world.
var quietHabits = []string{"sized_by_eye", "single_phase", "touches_ridge", "clearance_under_1", "partial_seating_used", "discomfort_used", "first_tray_used", "centric_by_swallow", "late_delivery"}

// tally gathers one hypothesis over worlds.
type tally struct {
	log, se          []float64
	covered, outside int
}

func (y *tally) add(r Estimate, truth float64) {
	if !r.Low.Known() || !r.High.Known() {
		return
	}
	y.log = append(y.log, math.Log(float64(r.Value)))
	y.se = append(y.se, math.Log(float64(r.High/r.Low))/2/stats.TwoSidedZ(r.Level))
	y.covered += one(float64(r.Low) <= truth && truth <= float64(r.High))
	y.outside += one(r.Low > 1 || r.High < 1)
}

// spread is the mean of the estimates and their standard deviation over worlds.
func (y *tally) spread() (mean, sd float64) {
	for _, v := range y.log {
		mean += v / float64(len(y.log))
	}
	for _, v := range y.log {
		sd += (v - mean) * (v - mean) / float64(len(y.log)-1)
	}
	return mean, math.Sqrt(sd)
}

// power is how often limits leave out 1 when estimates scatter by sd about their truth.
func power(t *testing.T, truth, sd float64) float64 {
	t.Helper()
	_, above := stats.NormalTails(stats.TwoSidedZ(0.95) - math.Abs(math.Log(truth))/sd)
	return above
}

// TestCoverageOfPairsPlanted: with effects planted down a chain of habits, on counts
// that vary more than a Poisson law and on rare remakes, confounded by case mix and by
// clinician, estimates are unbiased, the 95 % limits cover, effects are found as often as
// their scatter lets expect, and habits without an effect stay quiet.
func TestCoverageOfPairsPlanted(t *testing.T) {
	const worlds = 100
	effect, ratios := trueEffects()
	var asked []habit.Hypothesis
	for _, h := range habitHypotheses() {
		if _, ok := ratios[h.ID]; ok || slices.Contains(quietHabits, h.Exposure) && !h.Control {
			asked = append(asked, h)
		}
	}
	found := map[string]*tally{}
	quiet, wrong, clearAll := &tally{}, 0, 0
	eachWorld(t, asked, 1001, worlds, effect, func(_ *world, pairs []Pair) {
		for _, p := range pairs {
			clearAll += one(p.Grade == Clear)
			truth, ok := ratios[p.ID]
			if !ok {
				quiet.add(p.Within.Ratio, 1)
				wrong += one(p.Grade == Clear)
				continue
			}
			if found[p.ID] == nil {
				found[p.ID] = &tally{}
			}
			found[p.ID].add(p.Within.Ratio, truth)
		}
	})
	covered, all := quiet.covered, len(quiet.log)
	for id, truth := range ratios {
		y := found[id]
		require.Len(t, y.log, worlds, id)
		mean, sd := y.spread()
		theory, seen := power(t, truth, sd), float64(y.outside)/worlds
		t.Logf("%-36s true %.3f, found %.3f (error of the mean %.3f), covered %.3f, power %.2f, theory %.2f", id, truth, math.Exp(mean), sd/math.Sqrt(worlds), float64(y.covered)/worlds, seen, theory)
		assert.InDelta(t, math.Log(truth), mean, 3.3*sd/math.Sqrt(worlds), "%s is biased", id)
		assert.InDelta(t, theory, seen, 0.1, "power of %s", id)
		assert.GreaterOrEqual(t, y.covered, worlds*88/100, "%s, 95 %% limits", id)
		covered, all = covered+y.covered, all+len(y.log)
	}
	t.Logf("95 %% limits cover %.4f of %d; habits without effect: %.4f of %d leave out 1; of %d clear findings %d are wrong",
		float64(covered)/float64(all), all, float64(quiet.outside)/float64(len(quiet.log)), len(quiet.log), clearAll, wrong)
	assert.InDelta(t, 0.95, float64(covered)/float64(all), 0.02)
	assert.LessOrEqual(t, float64(quiet.outside)/float64(len(quiet.log)), 0.07)
	// A q-value below 5 % promises that of the findings called clear at most one in twenty is none.
	assert.LessOrEqual(t, float64(wrong), 0.05*float64(clearAll))
	assert.LessOrEqual(t, float64(wrong), 0.01*float64(len(quiet.log)), "each habit without an effect is hardly ever called clear")
}

// TestCoverageOfPairsLongWay: a world that is loaded from files gives the findings of
// the same rows laid straight into the tables.
func TestCoverageOfPairsLongWay(t *testing.T) {
	effect, _ := trueEffects()
	ctx := context.Background()
	w := newWorld(2001, 400, effect)
	short := w.put(t, worldStore(t))
	defer short.c.Close()
	long, err := newAsker(ctx, w.through(t), DefaultSettings())
	require.NoError(t, err)
	defer long.c.Close()
	want, err := long.pairFindings(ctx, habitHypotheses())
	require.NoError(t, err)
	got, err := short.pairFindings(ctx, habitHypotheses())
	require.NoError(t, err)
	a, err := json.Marshal(want)
	require.NoError(t, err)
	b, err := json.Marshal(got)
	require.NoError(t, err)
	assert.JSONEq(t, string(a), string(b))
	assert.Contains(t, string(a), `"grade":"clear"`)
}
