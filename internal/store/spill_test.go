package store

import (
	"context"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestSpillsWhereItIsToldAndLeavesNothing sorts more than the memory limit holds: the
// folder named is used while the store is open, and gone when it is closed.
func TestSpillsWhereItIsToldAndLeavesNothing(t *testing.T) {
	temp := filepath.Join(t.TempDir(), "spill")
	st, err := Open(context.Background(), "", Options{Memory: "40MB", Threads: 1, TempDir: temp})
	require.NoError(t, err)
	_, err = st.DB().Exec("CREATE TEMP TABLE wide AS SELECT md5(i::VARCHAR) || md5((i + 1)::VARCHAR) AS a FROM range(1000000) r(i)")
	require.NoError(t, err)
	var first string
	require.NoError(t, st.DB().QueryRow("SELECT a FROM wide ORDER BY a OFFSET 500000 LIMIT 1").Scan(&first))
	files, err := os.ReadDir(temp)
	require.NoError(t, err)
	assert.NotEmpty(t, files)
	require.NoError(t, st.Close())
	_, err = os.Stat(temp)
	assert.ErrorIs(t, err, os.ErrNotExist)
}

// TestTooLittleMemoryIsSaidInASentence asks for one value that fits into no memory.
func TestTooLittleMemoryIsSaidInASentence(t *testing.T) {
	st, err := Open(context.Background(), "", Options{Memory: "30MB", Threads: 1, TempDir: t.TempDir()})
	require.NoError(t, err)
	defer func() { require.NoError(t, st.Close()) }()
	_, err = st.DB().ExecContext(context.Background(), "CREATE TABLE t AS SELECT list(i) FROM range(20000000) r(i)")
	require.Error(t, err)
	require.NotErrorIs(t, err, ErrUse)
	require.ErrorIs(t, Explain(err), ErrUse)
	require.ErrorContains(t, Explain(err), "the database has too little memory: give it more with --memory, or with memory in the settings (Out of Memory Error: ")
	require.NotContains(t, Explain(err).Error(), "\n")
}
