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

// TestSpareMemory: questions of a store in a file get what its size says, but no more than
// there was, and what the user says.
func TestSpareMemory(t *testing.T) {
	ctx := context.Background()
	limit := func(s *Store) (limit string) {
		require.NoError(t, s.DB().QueryRow("SELECT current_setting('memory_limit')").Scan(&limit))
		return limit
	}
	path := filepath.Join(t.TempDir(), "s.duckdb")
	for _, c := range []struct{ path, memory, had, want string }{
		{path, "", "900MB", "381.4 MiB"}, // 400 MB: the file is small
		{path, "", "100MB", "95.3 MiB"},
		{path, "700MB", "", "667.5 MiB"},
		{"", "", "900MB", "858.3 MiB"},
	} {
		s, err := Open(ctx, c.path, Options{Memory: c.memory})
		require.NoError(t, err)
		if c.had != "" { // as if the machine had so much
			_, err = s.DB().Exec("SET memory_limit=" + Quote(c.had))
			require.NoError(t, err)
		}
		require.NoError(t, s.SpareMemory(ctx))
		assert.Equal(t, c.want, limit(s), "%+v", c)
		require.NoError(t, s.Close())
	}
	s, err := Open(ctx, path, Options{})
	require.NoError(t, err)
	most, ok := bytesOf(limit(s))
	require.True(t, ok)
	assert.LessOrEqual(t, most, int64(mostMemory), "a store in a file is opened with as much as that, whatever the machine has")
	_, err = s.DB().Exec("SET memory_limit='9GB'")
	require.NoError(t, err)
	require.NoError(t, s.DB().PingContext(ctx))
	for _, c := range []struct {
		size int64
		want string
	}{{2_000_000_000, "953.6 MiB"}, {1_000_000_000, "715.2 MiB"}} { // sparse
		require.NoError(t, os.Truncate(path, c.size))
		require.NoError(t, s.SpareMemory(ctx))
		assert.Equal(t, c.want, limit(s))
	}
	require.NoError(t, s.Close())
	for text, want := range map[string]int64{"0 bytes": 0, "95.3 MiB": 99929292, "1.5 TiB": 1649267441664} {
		n, ok := bytesOf(text)
		assert.True(t, ok)
		assert.Equal(t, want, n)
	}
	for _, text := range []string{"", "1.5", "2 GB of it", "x GiB"} {
		_, ok := bytesOf(text)
		assert.False(t, ok, text)
	}
}
