package intake

import (
	"bytes"
	"context"
	"database/sql"
	"os"
	"path/filepath"
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"afterfit/internal/store"
)

// addedBy lists the tables that each schema version after the first brought.
var addedBy = map[int][]string{2: {"cleared"}, 3: {"load_notes", "load_files", "load_rows", "load_needs", "seen", "corrected", "undone"}, 4: {"unlinked"}}

// oldStore writes a store with two loads as a program of an earlier version left it.
func oldStore(t *testing.T, version int) (path, print string) {
	t.Helper()
	ctx, path := context.Background(), filepath.Join(t.TempDir(), "old.duckdb")
	st, err := store.Open(ctx, path, store.Options{Threads: 1})
	require.NoError(t, err)
	load(t, st, small)
	load(t, st, with(t, "records.csv", "62.5", "61.5"))
	print, err = st.Fingerprint(ctx)
	require.NoError(t, err)
	require.NoError(t, st.Tx(ctx, func(ctx context.Context, c *sql.Conn) error {
		for v := version + 1; v <= store.Version(); v++ {
			require.NotEmpty(t, addedBy[v], "the test knows every version")
			for _, table := range addedBy[v] {
				if _, err := c.ExecContext(ctx, "DROP TABLE main."+table); err != nil {
					return err
				}
			}
		}
		return st.SetMeta(ctx, c, "schema_version", strconv.Itoa(version))
	}))
	require.NoError(t, st.Close())
	return path, print
}

// TestAnOldStoreIsCopiedAndBroughtUp: every earlier version opens with the same
// content, beside a copy of the file as it was; its loads can be undone from the
// last on, because nothing says what each builds on.
func TestAnOldStoreIsCopiedAndBroughtUp(t *testing.T) {
	ctx := context.Background()
	for version := 1; version < store.Version(); version++ {
		path, print := oldStore(t, version)
		was, err := os.ReadFile(path)
		require.NoError(t, err)
		_, err = store.Open(ctx, path, store.Options{ReadOnly: true})
		require.ErrorIs(t, err, store.ErrUse)
		assert.NoFileExists(t, store.CopyOf(path, version), "a store that is only read is left alone")
		st, err := store.Open(ctx, path, store.Options{Threads: 1})
		require.NoError(t, err)
		kept, err := os.ReadFile(store.CopyOf(path, version))
		require.NoError(t, err)
		assert.True(t, bytes.Equal(was, kept), "the copy is the file as it was")
		assert.Equal(t, print, fingerprint(t, st))
		_, err = st.Undo(ctx, 1, time.Time{})
		require.ErrorContains(t, err, "load 2 builds on it")
		_, err = st.Undo(ctx, 2, time.Time{})
		require.NoError(t, err)
		e, err := st.Explain(ctx, 1)
		require.NoError(t, err)
		assert.Equal(t, version >= 3, e.HasFiles, "files are noted from version 3 on")
		load(t, st, with(t, "records.csv", "62.5", "60.5"))
		require.NoError(t, st.Close())
		st, err = store.Open(ctx, path, store.Options{ReadOnly: true})
		require.NoError(t, err)
		fingerprint(t, st)
		require.NoError(t, st.Close())
	}
}

// TestAStoreThatCannotBeCopiedStaysAsItIs: something else stands where the copy goes.
func TestAStoreThatCannotBeCopiedStaysAsItIs(t *testing.T) {
	ctx := context.Background()
	path, _ := oldStore(t, 2)
	was, err := os.ReadFile(path)
	require.NoError(t, err)
	require.NoError(t, os.MkdirAll(filepath.Join(store.CopyOf(path, 2), "x"), 0o700))
	_, err = store.Open(ctx, path, store.Options{Threads: 1})
	require.ErrorIs(t, err, store.ErrUse)
	assert.ErrorContains(t, err, "cannot be copied to")
	now, err := os.ReadFile(path)
	require.NoError(t, err)
	assert.True(t, bytes.Equal(was, now))
	left, err := os.ReadDir(filepath.Dir(path))
	require.NoError(t, err)
	assert.Len(t, left, 2, "no half copy is left: %v", left)
}
