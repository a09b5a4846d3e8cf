package review

import (
	"context"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"afterfit/internal/demo"
	"afterfit/internal/intake"
	"afterfit/internal/store"
)

// TestStatementsLetGo sees the database give up blocks of a store's file, keep its limit, and
// answer as before.
func TestStatementsLetGo(t *testing.T) {
	ctx, dir := context.Background(), t.TempDir()
	require.NoError(t, demo.Write(ctx, dir, demo.Options{Cases: 1500}))
	st, err := store.Open(ctx, filepath.Join(t.TempDir(), "s.duckdb"), store.Options{})
	require.NoError(t, err)
	defer func() { require.NoError(t, st.Close()) }()
	_, err = intake.Load(ctx, st, dir, intake.LoadOptions{Strict: true})
	require.NoError(t, err)
	require.NoError(t, EnsureLinked(ctx, st, DefaultSettings()))
	require.NoError(t, st.Checkpoint(ctx))
	q, err := newAsker(ctx, st, DefaultSettings())
	require.NoError(t, err)
	defer q.close()
	held := func() (bytes int64) {
		require.NoError(t, q.c.QueryRowContext(ctx, "SELECT CAST(sum(memory_usage_bytes) AS BIGINT) FROM duckdb_memory()").Scan(&bytes))
		return bytes
	}
	want, err := q.lesions(ctx)
	require.NoError(t, err)
	limit, err := st.Memory(ctx)
	require.NoError(t, err)
	before := held()
	require.Greater(t, before, int64(3_000_000), "nothing to let go")
	require.NoError(t, q.letGo(ctx, 2_000_000))
	assert.LessOrEqual(t, held(), int64(2_000_000))
	after, err := st.Memory(ctx)
	require.NoError(t, err)
	assert.InDelta(t, limit, after, 1e6) // it is told to a tenth of a MiB
	got, err := q.lesions(ctx)
	require.NoError(t, err)
	assert.Equal(t, want, got)
}
