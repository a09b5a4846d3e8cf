//go:build slow

package review

import (
	"context"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"afterfit/internal/demo"
)

// TestDemoFindsDoses: in two invented services the planted effect of tray space is a
// rising curve, little freeway space goes with more visits than the usual where its
// limits tell, and the control stays quiet. Seeds 1 to 12 gave P of the control between 0.07
// and 0.98; the demo's own seed, which is one of those that chance brings, gives 0.005.
func TestDemoFindsDoses(t *testing.T) {
	ctx := context.Background()
	for _, seed := range []uint64{2, 5} {
		dir := t.TempDir()
		require.NoError(t, demo.Write(ctx, dir, demo.Options{Seed: seed}))
		q, err := newAsker(ctx, loaded(t, 2, dir), DefaultSettings())
		require.NoError(t, err)
		doses, err := q.doses(ctx)
		require.NoError(t, err)
		require.NoError(t, q.c.Close())
		seen := 0
		for _, d := range doses {
			require.Empty(t, d.TooFew, d.ID)
			switch {
			case d.Control:
				seen++
				assert.Greater(t, float64(d.Flat), 0.05, "seed %d, %s", seed, d.ID)
			case d.Exposure == "clearance_max_mm":
				seen++
				assert.Less(t, float64(d.Q), 0.001, "seed %d, %s", seed, d.ID)
				assert.Greater(t, float64(d.Slope.Low), 1.0, "seed %d, %s", seed, d.ID)
			case d.Exposure == "freeway_mm":
				seen++
				require.NotNil(t, d.Reading)
				// Readings to half a millimetre of two values, most of them read once.
				assert.InDelta(t, 1.0, float64(d.Reading.ErrorSD), 0.25, "seed %d, %s", seed, d.ID)
			}
		}
		assert.Equal(t, 6, seen)
	}
}
