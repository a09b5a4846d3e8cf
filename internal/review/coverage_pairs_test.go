//go:build coverage

package review

import (
	"context"
	"encoding/json"
	"math"
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
	assert.InDelta(t, 0.05, float64(outside)/float64(told), 0.02, "95 %% limits cover 93 to 97 %%")
}

// TestCoverageOfPairsLongWay: a world that is loaded from files gives the findings of
// the same rows laid straight into the tables.
func TestCoverageOfPairsLongWay(t *testing.T) {
	effect := planted{freeway: map[string]float64{Adjustments: 1.8, SoreSpots: 1.8, Remake: 2}, remount: 1.4, centric: 2}
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
