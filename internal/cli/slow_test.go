//go:build slow

package cli

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/spf13/cobra"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestSlowScripts runs the scripts that take several seconds each.
func TestSlowScripts(t *testing.T) { runScripts(t, "testdata/slow") }

// commands walks the command tree.
func commands(c *cobra.Command, visit func(*cobra.Command)) {
	visit(c)
	for _, sub := range c.Commands() {
		commands(sub, visit)
	}
}

// TestHelpExamplesRun runs every example that a help text shows, in a folder that
// holds what the examples name.
func TestHelpExamplesRun(t *testing.T) {
	dir := t.TempDir()
	clean, err := filepath.Abs("../../testdata/bundles/clean")
	require.NoError(t, err)
	require.NoError(t, os.CopyFS(filepath.Join(dir, "exports", "2026-06"), os.DirFS(clean)))
	writeFilled(t, clean, filepath.Join(dir, "filled.xlsx"))
	clinic, err := filepath.Abs("../../testdata/mappings")
	require.NoError(t, err)
	require.NoError(t, os.CopyFS(filepath.Join(dir, "exports", "clinic"), os.DirFS(filepath.Join(clinic, "a_clinic_export"))))
	corrected, err := os.ReadFile(filepath.Join(clinic, "a_clinic.toml"))
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(filepath.Join(dir, "clinic.toml"), corrected, 0o600))
	t.Chdir(dir)
	require.Equal(t, ExitOK, run(t, "load exports/2026-06"), "the examples need a loaded store")
	ran := 0
	root := newRoot(&app{out: &bytes.Buffer{}, err: &bytes.Buffer{}})
	commands(root, func(c *cobra.Command) {
		for _, line := range strings.Split(c.Example, "\n") {
			line = strings.TrimSpace(line)
			if line == "" || c.Name() == "demo" || strings.Contains(line, "afterfit demo") {
				continue // the demo has a script of its own
			}
			line = strings.ReplaceAll(line, "D03", "C003")
			ran++
			assert.Equal(t, ExitOK, run(t, strings.TrimPrefix(line, "afterfit")), "example %q", line)
		}
		if c.Runnable() && c.Parent() == root && c.Name() != "completion" && c.Name() != "help" {
			assert.NotEmpty(t, c.Example, "%s shows no example", c.Name())
		}
	})
	assert.GreaterOrEqual(t, ran, 10)
}

// run runs a line as a shell would; what follows ">" names the file for its output,
// which a later example may read.
func run(t *testing.T, line string) int {
	t.Helper()
	var out, errw bytes.Buffer
	line, file, kept := strings.Cut(line, " > ")
	code := Main(strings.Fields(line), &out, &errw)
	if kept {
		require.NoError(t, os.WriteFile(file, out.Bytes(), 0o600))
	}
	if code != ExitOK {
		t.Logf("%s: %s", line, errw.String())
	}
	return code
}
