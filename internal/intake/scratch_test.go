//go:build unix

package intake

import (
	"errors"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestAbandonedFoldersAreCleared leaves a folder and rows set aside as a killed process
// does, with a lock that nobody holds any more, beside others that are in use.
func TestAbandonedFoldersAreCleared(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "odd [name]*")
	require.NoError(t, os.Mkdir(dir, 0o700))
	used, done, err := makeScratch(dir)
	require.NoError(t, err)
	defer done()
	abandoned, strange := filepath.Join(dir, scratchName+"1"), filepath.Join(dir, scratchName+"2")
	require.NoError(t, os.Mkdir(abandoned, 0o700))
	require.NoError(t, os.Mkdir(strange, 0o700)) // without a lock: not one of ours
	require.NoError(t, os.WriteFile(filepath.Join(abandoned, scratchLock), nil, 0o600))
	require.NoError(t, os.WriteFile(filepath.Join(abandoned, "cases.csv"), []byte("cells"), 0o600))
	next, doneNext, err := makeScratch(dir)
	require.NoError(t, err)
	assert.DirExists(t, used)
	assert.DirExists(t, strange)
	assert.NoDirExists(t, abandoned)
	doneNext()
	assert.NoDirExists(t, next)

	held, left := filepath.Join(dir, partName+"1"), filepath.Join(dir, partName+"2")
	for _, part := range []string{held, left} {
		require.NoError(t, os.WriteFile(part, []byte("cells"), 0o600))
	}
	defer holdPart(held)()
	clearParts(dir)
	assert.FileExists(t, held)
	assert.NoFileExists(t, left)
}

// TestFoldersLoseTheirLockLast ends the taking away of a folder after any number of
// removals: as long as a copy of the export is there, so is the lock.
func TestFoldersLoseTheirLockLast(t *testing.T) {
	ended := errors.New("killed")
	for most := range 5 {
		folder := filepath.Join(t.TempDir(), scratchName+"1")
		require.NoError(t, os.Mkdir(folder, 0o700))
		files := []string{"0.csv", scratchLock, "cases.csv", "visits.csv"}
		for _, name := range files {
			require.NoError(t, os.WriteFile(filepath.Join(folder, name), nil, 0o600))
		}
		done := 0
		err := takeAway(folder, func(path string) error {
			if done == most {
				return ended
			}
			done++
			return os.RemoveAll(path)
		})
		if most == len(files) {
			require.NoError(t, err)
			assert.NoDirExists(t, folder)
			return
		}
		require.ErrorIs(t, err, ended)
		assert.FileExists(t, filepath.Join(folder, scratchLock), "after %d removals", most)
	}
}
