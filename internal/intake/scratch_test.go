//go:build unix

package intake

import (
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
