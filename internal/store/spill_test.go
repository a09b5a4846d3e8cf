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
