package habit

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestCatalogueIsWhole(t *testing.T) {
	seen := map[string]bool{}
	for _, h := range Catalogue {
		assert.False(t, seen[h.ID], "%s stands twice", h.ID)
		seen[h.ID] = true
		for name, text := range map[string]string{"title": h.Title, "sentence": h.Sentence, "source": h.Source, "not assessable": h.NotAssessable} {
			assert.NotEmpty(t, text, "%s has no %s", h.ID, name)
		}
		assert.Contains(t, []string{"vertical", "tray", "display", "centric", "paper"}, h.Group, h.ID)
		assert.Contains(t, []Unit{Denture, Case}, h.Unit, h.ID)
		got, ok := Find(h.ID)
		assert.True(t, ok)
		assert.Equal(t, h.Title, got.Title)
	}
	assert.Len(t, Catalogue, 31)
	_, ok := Find("no_such_habit")
	assert.False(t, ok)
}
