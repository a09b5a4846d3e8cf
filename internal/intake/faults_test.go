//go:build faults

package intake

import (
	"context"
	"os"
	"path/filepath"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"afterfit/internal/store"
)

// loadOnFullDisk fills the disk under a store, loads, and holds that the store stays as
// it was. It gives the disk, which has room again, and the store on it, opened anew. It
// needs the right to mount, and fails without it: run it with -tags faults where that
// right exists.
func loadOnFullDisk(t *testing.T, export string, opt LoadOptions) (disk, path string, again *store.Store) {
	t.Helper()
	ctx := context.Background()
	disk = t.TempDir()
	require.NoError(t, syscall.Mount("tmpfs", disk, "tmpfs", 0, "size=7m"))
	t.Cleanup(func() { require.NoError(t, syscall.Unmount(disk, syscall.MNT_DETACH)) })
	path = filepath.Join(disk, "full.duckdb")
	st, err := store.Open(ctx, path, store.Options{})
	require.NoError(t, err)
	load(t, st, small)
	before := state(t, st)
	fill(t, filepath.Join(disk, "ballast"))
	_, err = Load(ctx, st, export, opt)
	require.ErrorIs(t, err, store.ErrUse)
	assert.ErrorContains(t, err, "the disk is full: make room and try again; nothing was stored")
	_ = st.Close() // DuckDB may have shut the database after the failed write
	require.NoError(t, os.Remove(filepath.Join(disk, "ballast")))
	again, err = store.Open(ctx, path, store.Options{})
	require.NoError(t, err)
	assert.Equal(t, before, state(t, again))
	return disk, path, again
}

// TestFullDisk fills the disk under the store that a load goes to, and then leaves room
// for its log alone.
func TestFullDisk(t *testing.T) {
	ctx := context.Background()
	disk, path, again := loadOnFullDisk(t, cleanBundle, LoadOptions{})
	// Seven megabytes hold the log of this load but not the log and the rows.
	res, err := Load(ctx, again, cleanBundle, LoadOptions{Strict: true})
	require.ErrorIs(t, err, store.ErrUse)
	assert.ErrorContains(t, err, "load 2 is stored, but its log could not be folded into the file")
	require.NotNil(t, res)
	_ = again.Close()
	require.NoError(t, syscall.Mount("tmpfs", disk, "tmpfs", syscall.MS_REMOUNT, "size=64m"))
	roomy, err := store.Open(ctx, path, store.Options{})
	require.NoError(t, err)
	defer func() { require.NoError(t, roomy.Close()) }()
	assert.Equal(t, "2", state(t, roomy)["loads"])
	report, err := roomy.Verify(ctx)
	require.NoError(t, err)
	assert.Empty(t, report.Problems)
	assert.EqualValues(t, 302, report.Tables[0].Now)
}

// fill writes until the disk is full.
func fill(t *testing.T, path string) {
	t.Helper()
	f, err := os.Create(path)
	require.NoError(t, err)
	block := make([]byte, 4096)
	for err == nil {
		_, err = f.Write(block)
	}
	require.ErrorIs(t, err, syscall.ENOSPC)
	require.NoError(t, f.Close())
}
