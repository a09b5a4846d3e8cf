package habit

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestClinicianHabitsAreWhole(t *testing.T) {
	seen := map[string]bool{}
	for _, h := range ClinicianHabits {
		_, clash := Find(h.ID)
		assert.False(t, seen[h.ID] || clash, "%s stands twice", h.ID)
		seen[h.ID] = true
		for name, text := range map[string]string{"title": h.Title, "sentence": h.Sentence, "source": h.Source, "not assessable": h.NotAssessable} {
			assert.NotEmpty(t, text, "%s has no %s", h.ID, name)
		}
		assert.Regexp(t, `^[A-Z].*[^.]\.$`, h.Rule, h.ID)
		assert.Regexp(t, `^[A-Z].*[^.]\.$`, h.Caution, h.ID)
		assert.Contains(t, []string{"vertical", "tray", "display"}, h.Group, h.ID)
		assert.Contains(t, []string{"freeway_mm", "display_target_mm", "tries"}, h.Quantity, h.ID)
		got, ok := FindClinicianHabit(h.ID)
		assert.True(t, ok)
		assert.Equal(t, h, got)
	}
	assert.Len(t, ClinicianHabits, 3)
	_, ok := FindClinicianHabit("no_such_habit")
	assert.False(t, ok)
}
