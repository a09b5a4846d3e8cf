package cli

import (
	"os"
	"path/filepath"
	"regexp"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A count before a noun goes through bundle.Counted, so that the terminal never says "1 cases".
func TestCountsAgreeWithTheirNouns(t *testing.T) {
	bare := regexp.MustCompile(`%d (cases|rows|dentures|patients|loads|summaries|audits|blanks|values|clinicians|repeats)\b`)
	require.Regexp(t, bare, "%d cases")
	files, err := filepath.Glob("*.go")
	require.NoError(t, err)
	for _, name := range files {
		if name == "counted_test.go" {
			continue
		}
		source, err := os.ReadFile(name)
		require.NoError(t, err)
		assert.Empty(t, bare.FindAllString(string(source), -1), name)
	}
}
