//go:build slow

package review

import (
	"context"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"afterfit/internal/demo"
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
	for i, id := range []string{"clearance_over_2", "partial_seating_used", "vertical_from_unsound"} {
		assert.Equal(t, id, f.Strongest[i].Habit)
		assert.Equal(t, Clear, f.Strongest[i].Grade)
		assert.Greater(t, float64(f.Strongest[i].Within.Difference.Low), 0.0, id)
	}
	grades, planted := map[string]Pair{}, 0
	for _, p := range f.Pairs {
		grades[p.Habit+" "+p.Outcome] = p
		assert.False(t, p.Control && p.adverse(), "%s is a control", p.ID)
	}
	outcome := map[string]string{demo.OutcomeVisits: Adjustments, demo.OutcomeSpots: SoreSpots, demo.OutcomeRemakes: Remake, demo.OutcomeVertical: Vertical}
	for _, x := range demo.Story {
		p, ok := grades[x.Habit+" "+outcome[x.Outcome]]
		switch {
		case x.Outcome == demo.OutcomeNothing:
			for _, o := range []string{Adjustments, SoreSpots, Remake} {
				if p, ok := grades[x.Habit+" "+o]; ok {
					assert.False(t, p.adverse(), "%s was planted to do nothing", p.ID)
				}
			}
		case ok:
			planted++
			assert.Equal(t, Clear, p.Grade, p.ID)
			assert.LessOrEqual(t, float64(p.Within.Ratio.Low), x.Ratio*1.05, p.ID)
			assert.GreaterOrEqual(t, float64(p.Within.Ratio.High), x.Ratio*0.95, p.ID)
		}
	}
	assert.GreaterOrEqual(t, planted, 6)

	sums, err := Summaries(ctx, st, DefaultSettings(), Header{}, []string{"D03", "D11", "D06"}, nil)
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
