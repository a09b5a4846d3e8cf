//go:build slow

package review

import (
	"context"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestDemoFindsWhatWasPlanted sets what the review finds beside what the demo
// planted: the three habits with an effect of their own come out clear and
// adverse, and the clinicians who carry them are pointed to them.
func TestDemoFindsWhatWasPlanted(t *testing.T) {
	ctx := context.Background()
	st := service(t)
	f, err := Run(ctx, st, DefaultSettings(), Header{})
	require.NoError(t, err)
	assert.True(t, f.Invented)
	require.Len(t, f.Strongest, 3)
	top := map[string]Association{}
	for _, a := range f.Strongest {
		top[a.Habit] = a
		assert.Positive(t, float64(a.Difference.Low), a.Habit)
		assert.False(t, a.Adjusted)
	}
	assert.Contains(t, top, "clearance_over_2")
	assert.Contains(t, top, "partial_seating_used")

	q, err := newAsker(ctx, st, DefaultSettings())
	require.NoError(t, err)
	defer func() { assert.NoError(t, q.c.Close()) }()
	all, err := q.associations(ctx)
	require.NoError(t, err)
	clear := map[string]bool{}
	for _, a := range all {
		if a.clear() {
			clear[a.Habit+" "+a.Outcome] = true
		}
	}
	assert.True(t, clear["clearance_over_2 "+Adjustments])
	assert.True(t, clear["partial_seating_used "+SoreSpots])
	assert.True(t, clear["vertical_from_unsound "+Remake])
	assert.False(t, clear["first_tray_used "+Adjustments], "planted without effect")
	assert.False(t, clear["no_remount "+Adjustments], "planted without effect")

	sums, err := Summaries(ctx, st, DefaultSettings(), Header{}, []string{"D03", "D11", "D06"})
	require.NoError(t, err)
	require.Len(t, sums, 3)
	tries := map[string][]string{}
	for _, s := range sums {
		tries[s.Clinician] = []string{}
		for _, x := range s.Try {
			tries[s.Clinician] = append(tries[s.Clinician], x.Habit)
			assert.NotEmpty(t, x.Cases)
			assert.LessOrEqual(t, len(x.Cases), 5)
		}
	}
	assert.Contains(t, tries["D03"], "clearance_over_2", "over-sizes trays")
	assert.Contains(t, tries["D11"], "partial_seating_used", "uses partly seated trays")
	assert.NotContains(t, tries["D06"], "first_tray_used", "a habit that does nothing is no advice")
}
