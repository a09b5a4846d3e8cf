package store

import (
	"context"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestSpilledRowsAreCleared leaves beside a store what a killed process had spilled.
func TestSpilledRowsAreCleared(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a.duckdb")
	spilled, own := filepath.Join(path+".tmp", "duckdb_temp_storage_DEFAULT-0.tmp"), filepath.Join(path+".tmp", "notes.txt")
	require.NoError(t, os.Mkdir(path+".tmp", 0o700))
	for _, file := range []string{spilled, own} {
		require.NoError(t, os.WriteFile(file, []byte("cells"), 0o600))
	}
	st, err := Open(context.Background(), path, Options{})
	require.NoError(t, err)
	require.NoError(t, st.Close())
	assert.NoFileExists(t, spilled)
	assert.FileExists(t, own)
}

func TestDamageIsSaidInASentence(t *testing.T) {
	damaged := Explain(assertError("IO Error: Corrupt database file: computed checksum 1 does not match\nat block 7"))
	require.ErrorIs(t, damaged, ErrUse)
	assert.EqualError(t, damaged, "the store's file is damaged: restore it from a copy, or load the exports again into a new store (IO Error: Corrupt database file: computed checksum 1 does not match)")
	for _, other := range []error{nil, ErrUse, context.Canceled} {
		assert.Equal(t, other, Explain(other))
	}
}

type assertError string

func (e assertError) Error() string { return string(e) }
