package review

import (
	"context"
	"encoding/json"
	"math"
	"os"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/txtar"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"afterfit/internal/store"
)

// contrasts asks for the zones of the habits named, all of them for none.
func contrasts(t *testing.T, st *store.Store, s Settings, habits ...string) map[string]ZoneContrast {
	t.Helper()
	ctx := context.Background()
	q, err := newAsker(ctx, st, s)
	require.NoError(t, err)
	defer func() { assert.NoError(t, q.c.Close()) }()
	all, err := q.zonesByHabit(ctx, habits)
	require.NoError(t, err)
	out := map[string]ZoneContrast{}
	for _, z := range all {
		out[strings.Join([]string{z.Habit, z.Arch, z.Zone, z.Side}, "|")] = z
	}
	require.Len(t, out, len(all))
	return out
}

// TestZoneContrastByHand: with the habit A 2, C 0 and E 1 spots, mean 1; without it B
// 1 and D 0, mean 1/2. Pulls of the patients on the difference: P1 (2-1)/3 - (1-1/2)/2
// = 1/12, P2 -1/3, P3 1/4, P4 0; squares 26/144; times 4/3 is the variance.
func TestZoneContrastByHand(t *testing.T) {
	a, err := txtar.ParseFile("../../testdata/audit/zones.txt")
	require.NoError(t, err)
	s := DefaultSettings()
	s.MinDentures, s.MinRemakes = 2, 2
	got := contrasts(t, loaded(t, 1, bundleOf(t, a)), s, "clearance_over_2")
	require.Len(t, got, 2)
	z := got["clearance_over_2|upper|tuberosity|left"]
	assert.Equal(t, []int64{3, 3, 2, 1, 5, 4}, []int64{z.With.N, z.With.Events, z.Without.N, z.Without.Events, z.Difference.N, z.Difference.Events})
	assert.InDelta(t, 50, float64(z.Difference.Value), 1e-9)
	half := 1.959963984540054 * 100 * math.Sqrt(26.0/144*4/3)
	assert.InDelta(t, 50-half, float64(z.Difference.Low), 1e-9)
	assert.InDelta(t, 50+half, float64(z.Difference.High), 1e-9)
	assert.Empty(t, z.Difference.TooFew)
	assert.False(t, z.Clear())
	assert.Contains(t, z.Difference.Method, "only 4 patients")
	assert.Contains(t, got["clearance_over_2|upper|tuberosity|"].Difference.TooFew, "1 spots in both sides together, 4 or more", "one spot tells nothing")

	s.MinDentures = 3
	assert.Contains(t, contrasts(t, loaded(t, 1, bundleOf(t, a)), s, "clearance_over_2")["clearance_over_2|upper|tuberosity|left"].Difference.TooFew, "2 followed")
}

func TestZoneContrastIsClearOnlyWithoutZero(t *testing.T) {
	for _, c := range []struct {
		low, high float64
		few       string
		want      bool
	}{{1, 3, "", true}, {-3, -1, "", true}, {-1, 3, "", false}, {0, 3, "", false}, {1, 3, "few", false}, {math.NaN(), math.NaN(), "", false}} {
		z := ZoneContrast{Difference: Estimate{Low: Num(c.low), High: Num(c.high), TooFew: c.few}}
		assert.Equal(t, c.want, z.Clear(), "%v", c)
	}
}

// zoneReference is testdata/reference/review_zones.json, made by review_zones.R with R
// 4.2.2 and sandwich 3.0-2 from the same CSV files.
type zoneReference struct {
	Habits map[string]map[string]struct {
		NWith        int64 `json:"n_with"`
		NWithout     int64 `json:"n_without"`
		SpotsWith    int64 `json:"spots_with"`
		SpotsWithout int64 `json:"spots_without"`
		Difference   float64
		SE           float64
	}
}

func TestZoneContrastsAgreeWithR(t *testing.T) {
	raw, err := os.ReadFile("../../testdata/reference/review_zones.json")
	require.NoError(t, err)
	var want zoneReference
	require.NoError(t, json.Unmarshal(raw, &want))
	require.Len(t, want.Habits, 3)
	st := cleanStore(t)
	got := contrasts(t, st, DefaultSettings(), "clearance_over_2", "first_tray_used", "lip_not_recorded")
	compared := 0
	for habit, places := range want.Habits {
		for place, w := range places {
			z, ok := got[habit+"|"+place]
			require.True(t, ok, "%s %s", habit, place)
			compared++
			assert.Equal(t, []int64{w.NWith, w.NWithout, w.SpotsWith, w.SpotsWithout}, []int64{z.With.N, z.Without.N, z.With.Events, z.Without.Events}, "%s %s", habit, place)
			requireNear(t, w.Difference, z.Difference.Value, habit+" "+place)
			half := 1.959963984540054 * w.SE
			requireNear(t, w.Difference-half, z.Difference.Low, habit+" "+place+" low")
			requireNear(t, w.Difference+half, z.Difference.High, habit+" "+place+" high")
		}
	}
	assert.Len(t, got, compared)
	assert.Greater(t, compared, 200)
	// Asked for every habit, the same ones come out the same.
	all := contrasts(t, st, DefaultSettings())
	assert.Greater(t, len(all), compared)
	for k, z := range got {
		assert.Equal(t, z, all[k], k)
	}
}

func TestZonesByHabitAreForTheStrongest(t *testing.T) {
	f := cleanReview(t)
	habits := map[string]bool{}
	for _, a := range f.Strongest {
		habits[a.Habit] = true
	}
	require.NotEmpty(t, habits, "the clean bundle has a clear habit")
	for _, z := range f.ZonesByHabit {
		assert.True(t, habits[z.Habit], z.Habit)
	}
	assert.NotEmpty(t, f.ZonesByHabit)
}

// A map of the sore places of a handful of dentures would be a list of their accidents.
func TestPlacesOfFewDenturesAreTooFewToTell(t *testing.T) {
	a, err := txtar.ParseFile("../../testdata/audit/zones.txt")
	require.NoError(t, err)
	st, s, ctx := loaded(t, 1, bundleOf(t, a)), DefaultSettings(), context.Background()
	for least, said := range map[int64]string{5: "", 6: "Too few to tell: 5 followed, 6 or more are needed."} {
		s.MinDentures = least
		q, err := newAsker(ctx, st, s)
		require.NoError(t, err)
		all, err := q.zones(ctx)
		require.NoError(t, err)
		require.NoError(t, q.c.Close())
		require.NotEmpty(t, all)
		for _, z := range all {
			assert.Equal(t, said, z.Estimate.TooFew)
		}
	}
}
