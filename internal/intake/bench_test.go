package intake

import (
	"context"
	"testing"

	"github.com/stretchr/testify/require"

	"afterfit/internal/store"
)

// BenchmarkLoad loads the 300 cases of the clean bundle into a fresh store in memory.
func BenchmarkLoad(b *testing.B) {
	ctx := context.Background()
	for b.Loop() {
		st, err := store.Open(ctx, "", store.Options{})
		require.NoError(b, err)
		_, err = Load(ctx, st, cleanBundle, LoadOptions{})
		require.NoError(b, err)
		require.NoError(b, st.Close())
	}
}
