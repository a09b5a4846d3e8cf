//go:build slow

package review

import (
	"context"
	"encoding/json"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"afterfit/internal/store"
)

// TestAllShapesGiveTheSameFigures: every figure of the pack is the same from each shape
// through its mapping and from the clean bundle without what the shape does not carry.
func TestAllShapesGiveTheSameFigures(t *testing.T) {
	for _, s := range shapes {
		t.Run(s.export, func(t *testing.T) {
			got := loadedShape(t, samples+"mappings/"+s.export, samples+"mappings/"+s.mapping)
			want := loadedShape(t, s.bundle(t), "")
			assert.Equal(t, figuresOf(t, want), figuresOf(t, got))
		})
	}
}

// figuresOf is everything that the pack and the summaries show.
func figuresOf(t *testing.T, st *store.Store) string {
	t.Helper()
	f, err := Run(context.Background(), st, DefaultSettings(), Header{})
	require.NoError(t, err)
	f.Fingerprint = "" // visits have other numbers in other shapes
	text, err := json.MarshalIndent(f, "", " ")
	require.NoError(t, err)
	return string(text)
}
