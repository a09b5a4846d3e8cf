package intake

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"afterfit/internal/privacy"
)

// TestShapesAgreeWithSQL holds the two ways of writing a value's shape together.
func TestShapesAgreeWithSQL(t *testing.T) {
	db := newStore(t).DB()
	shapes := map[string]bool{}
	for _, v := range []string{"C000000017", "a-B_9", "Zürich 8", "919108f7-52d1-4320-9bac-f847db4148a8", "C232AB00-9414-11EC-B3C8-9F6BDECED846",
		"5df41881-3aed-3515-88a7-2f4a814cf09e", "919108f7-52d1-4320-1bac-f847db4148a8", "919108g7-52d1-4320-9bac-f847db4148a8", "919108f7-52d1-4320-9bac-f847db4148a", "919108f752d1-4320-9bac-f847db4148a8-"} {
		var got string
		require.NoError(t, db.QueryRow("SELECT "+privacy.ShapeSQL+" FROM (SELECT ? AS x)", v).Scan(&got))
		assert.Equal(t, string(privacy.AppendShape(nil, []byte(v))), got, v)
		shapes[got] = true
	}
	assert.Len(t, shapes, 8, "UUIDs have two shapes")
}
