package review

import (
	"encoding/json"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func between(value, half float64) Estimate {
	return Estimate{Value: Num(value), Low: Num(value - half), High: Num(value + half), Level: 0.95, N: 100}
}

func TestMovedKinds(t *testing.T) {
	// On the log scale: 150 (140 to 160.7) has a standard error of 0.0352.
	then := Estimate{Value: 150, Low: 140, High: 160.714286, Level: 0.95}
	for _, c := range []struct {
		now  Estimate
		kind string
	}{
		// Standard error 0.0250 now, so 0.0248 for the difference; 2.576 of them are 0.0638, a factor of 1.0659.
		{Estimate{Value: 160.2, Low: 152.54, High: 168.24, Level: 0.95}, kindMoved},
		{Estimate{Value: 159.2, Low: 151.59, High: 167.19, Level: 0.95}, kindSteady},
		{Estimate{Value: 190, Low: 177.4, High: 203.5, Level: 0.95}, kindUnknown}, // no narrower than before
		{Estimate{Value: 160, Low: 152, High: 168, Level: 0.95, TooFew: "Too few."}, kindUnknown},
	} {
		assert.Equal(t, c.kind, movedKind(then, c.now), "%v", c.now.Value)
	}
	// Differences that may be negative are compared as they stand.
	assert.Equal(t, kindMoved, movedKind(between(-5, 10), between(12, 6)))
	assert.Equal(t, kindSteady, movedKind(between(-5, 10), between(3, 6)))
}

func TestCompareFindsWhatAppearedAndWent(t *testing.T) {
	pair := func(habit string, g Grade, ratio, low, high float64) Pair {
		return Pair{ID: habit, Habit: habit, Outcome: Adjustments, Grade: g, Within: Comparison{Ratio: Estimate{Value: Num(ratio), Low: Num(low), High: Num(high), Level: 0.95}}}
	}
	got := compareFindings([]Pair{pair("a", Clear, 1.3, 1.2, 1.41), pair("b", Clear, 1.3, 1.1, 1.54), pair("c", Unclear, 1.1, 0.9, 1.3), pair("d", NoSign, 1, 0.9, 1.1)},
		[]Pair{pair("c", Clear, 1.3, 1.2, 1.41), pair("b", Clear, 1.9, 1.72, 2.1), pair("a", Likely, 1.2, 1.1, 1.3), pair("d", NoSign, 1, 0.9, 1.1)})
	require.Len(t, got, 3)
	assert.Equal(t, []string{"c appeared", "b stronger", "a went"}, []string{got[0].ID + " " + got[0].Kind, got[1].ID + " " + got[1].Kind, got[2].ID + " " + got[2].Kind})
	assert.Equal(t, kindWeaker, strength(Estimate{Value: 0.5}, Estimate{Value: 0.9}))

	unit := func(code string, flag int) UnitRatio { return UnitRatio{Code: code, Flag: flag} }
	units := compareUnits([]UnitTable{{Outcome: Remake, Dimension: "clinician", Units: []UnitRatio{unit("A", 2), unit("B", 1), unit("C", -2)}}},
		[]UnitTable{{Outcome: Remake, Dimension: "clinician", Units: []UnitRatio{unit("A", 1), unit("B", 2), unit("C", -2)}}})
	require.Len(t, units, 2)
	assert.Equal(t, []string{"clinician:A went", "clinician:B appeared"}, []string{units[0].ID + " " + units[0].Kind, units[1].ID + " " + units[1].Kind})
}

func TestLateDataCountsOldPeriodsOnly(t *testing.T) {
	then := TimeChart{Outcome: Remake, Points: []TimePoint{{Period: "2024-01", N: 10, Observed: 4}, {Period: "2024-02", N: 5, Observed: 1}}}
	now := TimeChart{Outcome: Remake, Points: []TimePoint{{Period: "2024-01", N: 12, Observed: 6}, {Period: "2024-02", N: 8, Observed: 4}, {Period: "2024-03", N: 9, Observed: 9}}}
	assert.Equal(t, LateData{Outcome: Remake, Dentures: 5, Events: 5, Then: 5}, lateData(then, now))
}

// TestFindingsComeBackFromJSON compares a review with itself by way of its JSON form.
func TestFindingsComeBackFromJSON(t *testing.T) {
	f := *cleanReview(t)
	f.Schema, f.Fingerprint, f.Headlines = SchemaVersion, "abc", []Headline{{Outcome: Adjustments, Overall: between(100, 10)}}
	raw, err := json.Marshal(f)
	require.NoError(t, err)
	back, err := ReadFindings(raw)
	require.NoError(t, err)
	s := Compare(back, &f)
	assert.Equal(t, kindUnknown, s.Figures[0].Kind, "nothing is new")
	assert.Empty(t, s.Units)
	require.Len(t, s.Late, len(f.Mix))
	for _, l := range s.Late {
		assert.Zero(t, l.Dentures)
		assert.Zero(t, l.Events)
		assert.Positive(t, l.Then)
	}
	for _, bad := range []string{"", "[]", "{}", `{"schema":9,"fingerprint":"x","headlines":[]}`} {
		_, err := ReadFindings([]byte(bad))
		assert.Error(t, err, bad)
	}
}
