package review

import (
	"context"
	"encoding/json"
	"math"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"afterfit/internal/habit"
	"afterfit/internal/stats"
)

// clustered is testdata/reference/review_clusters.json: outcomes that count once,
// and contrasts, of the clean bundle, worked out by review_clusters.R (R 4.2.2,
// survival 3.5-3) from its CSV files with patients as clusters.
type clustered struct {
	Delivered int64                             `json:"delivered"`
	Risks     map[string]map[string]figure      `json:"risks"`
	Contrasts map[string]map[string]contrastRow `json:"contrasts"`
}

type figure struct {
	N, Events int64
	Value     float64
	Low, High *float64 // nil where R has none
}

type contrastRow struct {
	N                             int64
	With, Without, Difference, SE float64
}

func readClustered(t *testing.T) clustered {
	t.Helper()
	raw, err := os.ReadFile("../../testdata/reference/review_clusters.json")
	require.NoError(t, err)
	var r clustered
	require.NoError(t, json.Unmarshal(raw, &r))
	return r
}

// near reports whether got agrees with want to tol, relative above 1 and absolute
// below; NaN and infinities agree with nothing.
func near(got, want, tol float64) bool {
	return math.Abs(got-want) <= tol*math.Max(1, math.Abs(want))
}

func TestNearIsNaNSafe(t *testing.T) {
	assert.True(t, near(1, 1+1e-9, 1e-8))
	assert.False(t, near(1, 1+1e-7, 1e-8))
	assert.False(t, near(math.NaN(), 1, 1e-8))
	assert.False(t, near(1, math.NaN(), 1e-8))
	assert.False(t, near(math.Inf(1), 1, 1e-8))
}

// pullsAreRounded is the tolerance of robust limits: pulls are whole multiples of
// 1e-12 so that their sums are exact.
const pullsAreRounded = 1e-7

func sameFigure(t *testing.T, what string, got Estimate, want figure) {
	t.Helper()
	assert.Equal(t, want.N, got.N, "%s: n", what)
	assert.Equal(t, want.Events, got.Events, "%s: events", what)
	assert.True(t, near(float64(got.Value), want.Value, 1e-10), "%s: value %v, want %v", what, got.Value, want.Value)
	if want.Events == 0 {
		return // R has no limits there
	}
	require.NotNil(t, want.Low, what)
	assert.True(t, near(float64(got.Low), *want.Low, pullsAreRounded), "%s: low %v, want %v", what, got.Low, *want.Low)
	assert.True(t, near(float64(got.High), *want.High, pullsAreRounded), "%s: high %v, want %v", what, got.High, *want.High)
}

// TestIncidencesAgreeWithR compares every outcome that counts once, for all
// dentures and by arch.
func TestIncidencesAgreeWithR(t *testing.T) {
	want := readClustered(t)
	f := cleanReview(t)
	assert.Equal(t, want.Delivered, f.Coverage.Delivered)
	got := map[string]map[string]Estimate{}
	for _, h := range f.Headlines {
		got[h.Outcome] = map[string]Estimate{"all": h.Overall}
	}
	for _, g := range f.Groups {
		for _, v := range g.Values {
			if g.Dimension == "arch" {
				got[g.Outcome][v.Code] = v.Estimate
			}
		}
	}
	compared := 0
	for outcome, groups := range want.Risks {
		for group, w := range groups {
			compared++
			sameFigure(t, outcome+" "+group, got[outcome][group], w)
		}
	}
	assert.Equal(t, 5*3, compared)
}

// TestAssociationsAgreeWithR compares the crude contrasts, standardised over arch,
// and their cluster-robust standard errors.
func TestAssociationsAgreeWithR(t *testing.T) {
	want := readClustered(t)
	ctx := context.Background()
	q, err := newAsker(ctx, cleanStore(t), DefaultSettings())
	require.NoError(t, err)
	defer q.c.Close()
	all, err := q.associations(ctx, nil)
	require.NoError(t, err)
	// The bundle has too few remakes to show what pairs across the sides do; ulcers are many.
	ulcer := first{Ulcer, 30, false}
	c, err := q.newHabitCohort(ctx, habit.Catalogue, ulcer, func(string, string) bool { return true })
	require.NoError(t, err)
	ulcers, err := q.firstAssociations(ctx, c, ulcer)
	require.NoError(t, err)
	all = append(all, ulcers...)
	got := map[string]Association{}
	for _, a := range all {
		got[a.Habit+" "+a.Outcome] = a
	}
	compared := 0
	for id, outcomes := range want.Contrasts {
		for outcome, w := range outcomes {
			compared++
			g, ok := got[id+" "+outcome]
			require.True(t, ok, "%s %s is missing", id, outcome)
			half := float64(g.Difference.High-g.Difference.Low) / 2 / stats.TwoSidedZ(0.95)
			what := strings.Join([]string{id, outcome}, " ")
			assert.Equal(t, w.N, g.Difference.N, "%s: n", what)
			assert.True(t, near(float64(g.With.Value), 100*w.With, 1e-9), "%s: with %v, want %v", what, g.With.Value, 100*w.With)
			assert.True(t, near(float64(g.Without.Value), 100*w.Without, 1e-9), "%s: without %v, want %v", what, g.Without.Value, 100*w.Without)
			assert.True(t, near(float64(g.Difference.Value), 100*w.Difference, 1e-9), "%s: difference %v, want %v", what, g.Difference.Value, 100*w.Difference)
			assert.True(t, near(half, 100*w.SE, pullsAreRounded), "%s: se %v, want %v", what, half, 100*w.SE)
		}
	}
	assert.GreaterOrEqual(t, compared, 36)
}
