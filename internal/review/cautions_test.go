package review

import (
	"encoding/json"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"afterfit/internal/stats"
)

// A share of few says so in its JSON form and when it is asked for; a share of many has
// no such field, and the caution of an exact count falls away from 25 events on.
func TestEstimatesCarryTheirCautions(t *testing.T) {
	q := &asker{s: DefaultSettings()}
	few, err := q.share(3, 200, "% of dentures", "fields")
	require.NoError(t, err)
	require.Len(t, few.Warnings, 1)
	require.Contains(t, few.Warnings[0], "Only 3 events")
	many, err := q.share(90, 200, "% of dentures", "fields")
	require.NoError(t, err)
	require.Empty(t, many.Warnings)
	for _, c := range []struct {
		e    Estimate
		says bool
	}{{few, true}, {many, false}} {
		raw, err := json.Marshal(c.e)
		require.NoError(t, err)
		var fields map[string]any
		require.NoError(t, json.Unmarshal(raw, &fields))
		_, there := fields["warnings"]
		require.Equal(t, c.says, there)
		row := cells(spread([]any{c.e}))
		require.Len(t, row, len(estimateColumns))
		require.Equal(t, c.says, row[slices.Index(estimateColumns, "caution")] != "")
	}
	for spots, want := range map[int64]int{4: 1, 25: 0} {
		side, err := q.zoneSide(spots, 300)
		require.NoError(t, err)
		require.Len(t, side.Warnings, want)
		ratio, err := q.mixRatio(spots, 9, 1, 300, "unit_sums")
		require.NoError(t, err)
		require.Len(t, ratio.Warnings, want)
	}
	require.Len(t, fewPatients(29), 1)
	require.Empty(t, fewPatients(30))
	require.Equal(t, []string{"said"}, cautions([]stats.Warning{{Code: "aliased", Text: "dropped"}, {Code: "separation", Text: "said"}}))
}
