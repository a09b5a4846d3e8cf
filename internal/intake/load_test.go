package intake

import (
	"context"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"afterfit/internal/store"
)

const cleanBundle = "../../testdata/bundles/clean"

// newStore opens a fresh store in memory. One thread: for bundles this small,
// waking a second one costs more than it does.
func newStore(t testing.TB) *store.Store {
	t.Helper()
	st, err := store.Open(context.Background(), "", store.Options{Threads: 1})
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, st.Close()) })
	return st
}

func TestCleanBundleKeepsEveryRow(t *testing.T) {
	ctx := context.Background()
	st, err := store.Open(ctx, filepath.Join(t.TempDir(), "test.duckdb"), store.Options{})
	require.NoError(t, err)
	defer func() { require.NoError(t, st.Close()) }()
	res, err := Load(ctx, st, cleanBundle, LoadOptions{Strict: true})
	require.NoError(t, err)
	// Row counts by hand: the lines of each file less its header.
	want := map[string]int64{"cases": 300, "dentures": 540, "records": 300, "readings": 199, "trays": 540, "visits": 688, "sore_spots": 688, "remakes": 8}
	for _, b := range res.Balance {
		assert.Equal(t, Balance{Table: b.Table, Read: want[b.Table], Kept: want[b.Table]}, b)
	}
	require.Len(t, res.Balance, len(want))
	assert.Empty(t, res.SetAside)
	report, err := st.Verify(ctx)
	require.NoError(t, err)
	assert.Empty(t, report.Problems)
}
