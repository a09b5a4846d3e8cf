package cli

import (
	"encoding/csv"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"afterfit/internal/blank"
	"afterfit/internal/bundle"
)

// writeFilled writes the workbook with the rows of a bundle.
func writeFilled(t testing.TB, dir, path string) {
	t.Helper()
	content := blank.Content{Rows: map[string][]blank.Row{}}
	for _, tb := range bundle.Tables {
		f, err := os.Open(filepath.Join(dir, tb.Name+".csv"))
		require.NoError(t, err)
		rows, err := csv.NewReader(f).ReadAll()
		require.NoError(t, err)
		require.NoError(t, f.Close())
		for _, r := range rows[1:] {
			cells := make([]string, len(tb.Columns))
			for i, name := range rows[0] {
				cells[slices.Index(tb.Names(), name)] = r[i]
			}
			content.Rows[tb.Name] = append(content.Rows[tb.Name], blank.Row{Cells: cells})
		}
	}
	f, err := os.Create(path)
	require.NoError(t, err)
	require.NoError(t, blank.Workbook(f, content))
	require.NoError(t, f.Close())
}

// TestFilledWorkbookLoadsLikeItsBundle loads the same 300 cases from a folder and
// from a filled workbook into one store: the second brings nothing new.
func TestFilledWorkbookLoadsLikeItsBundle(t *testing.T) {
	clean, err := filepath.Abs("../../testdata/bundles/clean")
	require.NoError(t, err)
	t.Chdir(t.TempDir())
	writeFilled(t, clean, "filled.xlsx")
	var first, second string
	for _, c := range []struct {
		line []string
		out  *string
	}{{[]string{"load", clean, "--strict", "--quiet"}, &first}, {[]string{"load", "filled.xlsx", "--strict", "--quiet"}, &second}} {
		var out, errw testWriter
		require.Equal(t, ExitOK, Main(c.line, &out, &errw), string(errw))
		*c.out = string(out)
	}
	require.Contains(t, first, "Load 1.")
	require.Contains(t, second, "300 cases were in the store already, unchanged.")
	require.NotContains(t, second, "were replaced")
}

type testWriter []byte

func (w *testWriter) Write(p []byte) (int, error) {
	*w = append(*w, p...)
	return len(p), nil
}
