//go:build browser

package page

import (
	"flag"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"
)

var shots = flag.String("shots", "", "folder to keep screenshots and prints in")

// keep stores an artefact where -shots says, or nowhere.
func keep(t *testing.T, file string, content []byte) {
	t.Helper()
	if *shots == "" {
		return
	}
	require.NoError(t, os.MkdirAll(*shots, 0o755))
	require.NoError(t, os.WriteFile(filepath.Join(*shots, file), content, 0o644))
}
