package review

import (
	"context"
	"crypto/md5"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/txtar"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"afterfit/internal/habit"
	"afterfit/internal/store"
)

// small loads testdata/audit/small.txt, where two like dentures are enough.
func small(t *testing.T) (*store.Store, Settings) {
	t.Helper()
	a, err := txtar.ParseFile("../../testdata/audit/small.txt")
	require.NoError(t, err)
	s := DefaultSettings()
	s.MinDentures = 2
	return loaded(t, 1, bundleOf(t, a)), s
}

func auditOf(t *testing.T, st *store.Store, s Settings, id string) Audit {
	t.Helper()
	all, err := Audits(context.Background(), st, s, Header{Version: "test"}, []string{id}, nil)
	require.NoError(t, err)
	require.Len(t, all, 1)
	return all[0]
}

// TestAuditByHand holds case A of the small bundle, worked with pencil and paper.
func TestAuditByHand(t *testing.T) {
	st, s := small(t)
	a := auditOf(t, st, s, "A")
	assert.Equal(t, "named", a.Rule)
	assert.Zero(t, a.Place)
	assert.Equal(t, AuditCase{"A", "60-69", "female", 3, "unsound", "", "", 200, "export", 2.18}, a.Case, "a lip of 22 mm suggests 2.18 mm")
	require.Len(t, a.Dentures, 2)
	upper, lower := a.Dentures[0], a.Dentures[1]
	assert.Equal(t, []any{"upper", int64(10), int64(200), "export", int64(190), int64(1), int64(1), int64(10)},
		[]any{upper.Arch, *upper.Delivered, *upper.End, upper.EndReason, upper.RiskDays, upper.Visits, upper.Spots, upper.Minutes})
	assert.Equal(t, []any{int64(2), int64(4), int64(22)}, []any{lower.Visits, lower.Spots, lower.Minutes}, "the spot of day 40 is the last in the window of 30 days")
	require.Len(t, a.Visits, 4)
	assert.Len(t, a.Visits[0].Spots, 3)
	assert.Nil(t, a.Visits[2].Minutes)
	assert.Empty(t, a.Visits[3].Arch)
	assert.Equal(t, []AuditRepair{{"lower", 150, "reline", "fit"}}, a.Repairs)
	require.Len(t, a.Lesions, 1)
	assert.Equal(t, Lesion{CaseID: "A", Arch: "lower", Zone: "ridge_crest_front", Side: "left", FirstDay: 12, LastDay: 40, Level: "check"}, a.Lesions[0], "and no clinician")
	require.Len(t, a.Pointers, 3)
	assert.Equal(t, []int{1}, a.Pointers[0].Visits)
	assert.Equal(t, "labial_frenum", a.Pointers[0].Zone)
	assert.Equal(t, "ridge_crest_back", a.Pointers[1].Zone)
	assert.Equal(t, []int{1, 2, 3}, a.Pointers[2].Visits)
	require.Len(t, a.Patterns, 1)
	assert.Equal(t, []string{habit.OneSide, "lower"}, []string{a.Patterns[0].ID, a.Patterns[0].Arch}, "four spots on the crest, all left")
}

// TestAuditExpectedByHand: for the lower of A only B shares ridge class and prior
// denture (E is the same patient), so ridge class alone decides: B needed 1 visit and
// C none. For the upper, B needed none and F two.
func TestAuditExpectedByHand(t *testing.T) {
	st, s := small(t)
	a := auditOf(t, st, s, "A")
	got := map[string]AuditExpected{}
	for _, x := range a.Expected {
		got[x.Arch+" "+x.Outcome] = x
	}
	require.Len(t, got, 6)
	lower, upper := got["lower "+Adjustments], got["upper "+Adjustments]
	assert.Equal(t, "ridge", lower.Level)
	assert.Equal(t, []any{int64(2), int64(2), int64(1), int64(90)}, []any{lower.Observed, lower.Like.N, lower.Like.Events, lower.Days})
	assert.InDelta(t, 0.5, float64(lower.Like.Value), 1e-12)
	assert.Equal(t, []int64{0, 2}, []int64{lower.AsMany.Events, lower.AsMany.N})
	assert.Equal(t, "ridge_prior", upper.Level)
	assert.InDelta(t, 1, float64(upper.Like.Value), 1e-12)
	assert.Equal(t, []int64{1, 2}, []int64{upper.AsMany.Events, upper.AsMany.N})
	// Two patients with 0 and 2: pulls of -1/2 and 1/2, squares 1/2, times 2/(2-1): 1.
	assert.InDelta(t, math.Exp(1.959963984540054), float64(upper.Like.High), 1e-9)
	assert.Equal(t, int64(0), got["upper "+Remake].Observed)

	few := auditOf(t, st, DefaultSettings(), "A")
	for _, x := range few.Expected {
		assert.Equal(t, "arch", x.Level, "ten are not to be had")
		assert.NotEmpty(t, x.Like.TooFew)
	}
}

// TestAuditValuesByHand: freeway spaces 1.5, 2.5, 3.5 (worked out) and 4.5 (written).
func TestAuditValuesByHand(t *testing.T) {
	st, s := small(t)
	a := auditOf(t, st, s, "A")
	got := map[string]AuditValue{}
	for _, v := range a.Values {
		got[v.Arch+v.Field] = v
	}
	f := got["freeway_mm"]
	for i, want := range []float64{1.5, 1.65, 3, 4.35, 1, 5} {
		assert.InDelta(t, want, float64([]Num{f.Value, f.P5, f.P50, f.P95, f.UsualLow, f.UsualHigh}[i]), 1e-9)
	}
	assert.Equal(t, int64(4), f.N)
	assert.False(t, f.OutsideUsual())
	assert.True(t, f.OutsideHouse())
	assert.True(t, got["lowerclearance_max_mm"].OutsideUsual())
	assert.NotContains(t, got, "upperclearance_max_mm", "nobody recorded it")
	d := got["display_target_mm"]
	assert.InDelta(t, 4.18, float64(d.UsualHigh), 1e-9, "2.18 suggested and 2 more")
	assert.True(t, d.OutsideUsual())
	assert.Contains(t, got["vdr_mm"].Usual, "local data only")
	require.Len(t, a.Entries, 4)
	assert.Equal(t, "vertical_basis", a.Entries[0].Field)
	assert.Equal(t, []int64{2, 3}, []int64{a.Entries[0].Same.Events, a.Entries[0].Same.N})
	assert.Equal(t, "lower", a.Entries[3].Arch)
	assert.Equal(t, []int64{2, 3}, []int64{a.Entries[2].Same.Events, a.Entries[2].Same.N}, "the lower's scheme: A and C of A, B and C")
}

func TestAuditSimilarByHand(t *testing.T) {
	st, s := small(t)
	a := auditOf(t, st, s, "A")
	ids := []string{}
	for _, c := range a.Similar {
		ids = append(ids, c.ID)
	}
	assert.Equal(t, []string{"B", "C", "D"}, ids, "E is the same patient, F has one denture, G none")
	b := a.Similar[0]
	assert.Equal(t, SimilarCase{ID: "B", AgeFar: 1, FreewayFar: 2, ClearanceFar: 2, Followed: 190, Visits: 1, Remade: "upper"}, b)
	assert.Equal(t, int64(-1), a.Similar[1].ClearanceFar, "C has no tray")
}

func TestAuditOfAnUndeliveredCase(t *testing.T) {
	st, s := small(t)
	a := auditOf(t, st, s, "G")
	require.Len(t, a.Dentures, 1)
	assert.Nil(t, a.Dentures[0].Delivered)
	assert.Empty(t, a.Expected)
	assert.Empty(t, a.Similar)
	assert.Empty(t, a.Habits)
	assert.Equal(t, AskNextTime, a.Questions[len(a.Questions)-1].ID)
}

func TestAuditQuestionsFollowTheCase(t *testing.T) {
	st, s := small(t)
	q := auditOf(t, st, s, "A").Questions
	assert.Equal(t, AuditQuestion{AskReview, "lower|ridge_crest_front|left"}, q[0], "safety comes first")
	assert.Contains(t, q, AuditQuestion{AskAgain, "lower|ridge_crest_front|left"})
	assert.NotContains(t, q, AuditQuestion{AskRecord, "freeway_mm"})
	assert.Contains(t, auditOf(t, st, s, "B").Questions, AuditQuestion{AskCause, "upper"})
	assert.Contains(t, auditOf(t, st, s, "B").Questions, AuditQuestion{AskRecord, "lip_mm"})
}

// TestPicksByHand: everybody is followed through the window, so expected visits are
// the means of arch, ridge class and prior denture (of the arch where one denture is
// alone). Beyond them: A 2-1 + 1-3/4 = 1.25; B 1-1 - 3/4; C 0-3/5 + 2-5/6 = 0.567;
// D -3/5 - 5/6 = -1.433; E -1 - 3/4; F 2-3/4 = 1.25.
func TestPicksByHand(t *testing.T) {
	st, s := small(t)
	for want, p := range map[string]Pick{
		"A F C": {Rule: PickWorst, Most: 9},
		"A F":   {Rule: PickWorst, Most: 2},
		"E D B": {Rule: PickBest, Most: 9},
		"A":     {Rule: PickZone, Arch: "lower", Zone: "ridge_crest_front", Side: "left", Most: 9},
		"A ":    {Rule: PickZone, Arch: "upper", Zone: "labial_frenum", Most: 9},
		"":      {Rule: PickZone, Arch: "lower", Zone: "ridge_crest_front", Side: "right", Most: 9},
		"A B":   {Rule: PickHabit, Habit: "vertical_from_unsound", Most: 9},
		"B":     {Rule: PickRemake, Most: 9},
		"A  ":   {Rule: PickLesion, Most: 9},
	} {
		assert.Equal(t, strings.Fields(want), picked(t, st, s, p), "%v", p)
	}
	_, err := Audits(context.Background(), st, s, Header{}, nil, &Pick{Rule: "nothing"})
	assert.ErrorContains(t, err, "nothing")
}

func picked(t *testing.T, st *store.Store, s Settings, p Pick) []string {
	t.Helper()
	all, err := Audits(context.Background(), st, s, Header{}, nil, &p)
	require.NoError(t, err)
	ids := []string{}
	for i, a := range all {
		ids = append(ids, a.Case.ID)
		assert.Equal(t, i+1, a.Place)
		assert.Equal(t, p.Rule, a.Rule)
	}
	return ids
}

// The random pick is the order of MD5 sums, which anybody can work out again.
func TestRandomPickFollowsItsSeed(t *testing.T) {
	st, s := small(t)
	ids := []string{"A", "B", "C", "D", "E", "F"}
	orders := map[string]bool{}
	for seed := range uint64(3) {
		want := slices.Clone(ids)
		slices.SortFunc(want, func(a, b string) int {
			return strings.Compare(fmt.Sprintf("%x", md5.Sum(fmt.Appendf(nil, "%d:%s", seed, a))), fmt.Sprintf("%x", md5.Sum(fmt.Appendf(nil, "%d:%s", seed, b))))
		})
		got := picked(t, st, s, Pick{Rule: PickRandom, Seed: seed, Most: 9})
		assert.Equal(t, want, got)
		orders[strings.Join(got, " ")] = true
	}
	assert.Greater(t, len(orders), 1)
}

func TestUnknownCaseNamesTheNearest(t *testing.T) {
	st := cleanStore(t)
	_, err := Audits(context.Background(), st, DefaultSettings(), Header{}, []string{"k0000032"}, nil)
	var unknown *UnknownCase
	require.True(t, errors.As(err, &unknown))
	assert.Equal(t, "K00000032", unknown.Near[0])
	assert.ErrorContains(t, err, "K00000032")
	_, err = Audits(context.Background(), st, DefaultSettings(), Header{}, []string{"nothing like it at all"}, nil)
	require.True(t, errors.As(err, &unknown))
}

// An audit names nobody: none of its JSON holds a clinician, a patient, a site, a
// laboratory or a calendar date.
func TestAuditNamesNobody(t *testing.T) {
	st, s := small(t)
	raw, err := json.Marshal(auditOf(t, st, s, "A"))
	require.NoError(t, err)
	for _, identity := range []string{"P1", "S9", "D9", "2023", "V1"} {
		assert.NotContains(t, string(raw), `"`+identity, identity)
	}
	assert.NotContains(t, string(raw), `"clinician":"D`)
}

func TestAuditsAreTheSameOnAnyThreadCount(t *testing.T) {
	var first []byte
	for _, threads := range []int{1, 4} {
		st := loaded(t, threads, clean)
		all, err := Audits(context.Background(), st, DefaultSettings(), Header{}, nil, &Pick{Rule: PickWorst, Most: 3})
		require.NoError(t, err)
		require.Len(t, all, 3)
		raw, err := json.Marshal(all)
		require.NoError(t, err)
		if first == nil {
			first = raw
		}
		assert.Equal(t, string(first), string(raw), "%d threads", threads)
	}
}

// Patterns that the small bundle does not show.
func TestPatternsFollowTheirRules(t *testing.T) {
	spot := func(arch, zone, side string) AuditSpot { return AuditSpot{arch, zone, side, 1} }
	at := func(spots ...[]AuditSpot) *Audit {
		a := &Audit{}
		for i, s := range spots {
			a.Visits = append(a.Visits, AuditVisit{Number: i + 1, Spots: s})
		}
		return a
	}
	for name, c := range map[string]struct {
		a    *Audit
		want []string
	}{
		"none":                  {at(), nil},
		"one border spot":       {at([]AuditSpot{spot("upper", "labial_sulcus", "left")}), nil},
		"two border spots":      {at([]AuditSpot{spot("upper", "labial_sulcus", "left"), spot("upper", "buccal_frenum", "left")}), []string{habit.BorderOnly + " upper"}},
		"border and more":       {at([]AuditSpot{spot("upper", "labial_sulcus", "left"), spot("upper", "tuberosity", "left")}), nil},
		"crest left and middle": {at([]AuditSpot{spot("lower", "ridge_crest_front", "left"), spot("lower", "ridge_crest_front", "middle")}), nil},
		"crest right twice":     {at([]AuditSpot{spot("lower", "ridge_crest_front", "right")}, []AuditSpot{spot("lower", "ridge_crest_front", "right")}), []string{habit.OneSide + " lower"}},
		"three visits, moving": {at([]AuditSpot{spot("lower", "torus", "left")}, []AuditSpot{spot("lower", "genial", "middle")}, []AuditSpot{spot("lower", "torus", "right")}),
			[]string{habit.MovingAbout + " lower"}},
		"whole ridge": {at([]AuditSpot{spot("lower", "ridge_crest_back", "left"), spot("lower", "ridge_crest_back", "right"), spot("upper", "ridge_crest_back", "left"), spot("upper", "ridge_crest_front", "right")}),
			[]string{habit.WholeRidge + " "}},
	} {
		var got []string
		for _, p := range auditPatterns(c.a) {
			got = append(got, p.ID+" "+p.Arch)
		}
		assert.Equal(t, c.want, got, name)
	}
}
