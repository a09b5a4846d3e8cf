package main

import (
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// house lists the packages from top to bottom: a package imports only what stands
// below it. DEVELOPERS.md says what each one is for.
var house = []string{
	"cmd/afterfit", "internal/cli", "internal/page", "internal/chart", "internal/review", "internal/habit", "internal/stats",
	"internal/intake", "internal/store", "internal/privacy", "internal/mapping", "internal/demo", "internal/tables", "internal/blank", "internal/bundle", "internal/sheets", "internal/wording", "queries", "reports",
}

const root = "../.."

func TestImportsPointDown(t *testing.T) {
	found := map[string]bool{}
	require.NoError(t, filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || !strings.HasSuffix(path, ".go") {
			return err
		}
		rel, err := filepath.Rel(root, path)
		require.NoError(t, err)
		pkg := filepath.ToSlash(filepath.Dir(rel))
		at := slices.Index(house, pkg)
		if !assert.NotEqual(t, -1, at, "%s: package %s has no place in the house", rel, pkg) {
			return nil
		}
		found[pkg] = true
		if strings.HasSuffix(path, "_test.go") {
			return nil
		}
		checkImports(t, path, rel, at)
		return nil
	}))
	for _, dir := range []string{"cmd/afterfit", "internal/cli", "internal/bundle", "internal/stats"} {
		assert.True(t, found[dir], "the walk did not see %s", dir)
	}
}

func checkImports(t *testing.T, path, rel string, at int) {
	t.Helper()
	file, err := parser.ParseFile(token.NewFileSet(), path, nil, parser.ImportsOnly)
	require.NoError(t, err)
	for _, spec := range file.Imports {
		imp, err := strconv.Unquote(spec.Path.Value)
		require.NoError(t, err)
		name, own := strings.CutPrefix(imp, "afterfit/")
		if !own {
			continue
		}
		below := slices.Index(house, name)
		assert.Greater(t, below, at, "%s imports %s, which does not stand below it", rel, name)
	}
}

func TestTopLevelIsFixed(t *testing.T) {
	allowed := []string{"cmd", "internal", "queries", "reports", "testdata", "go.mod", "go.sum", "README.md", "DEVELOPERS.md", "LICENSE"}
	entries, err := os.ReadDir(root)
	require.NoError(t, err)
	ignored := []string{"afterfit-demo", "afterfit", "artefacts"} // written by the commands of the README, ignored by git
	for _, e := range entries {
		name := e.Name()
		if strings.HasPrefix(name, ".") || slices.Contains(ignored, name) || strings.HasSuffix(name, ".duckdb") {
			continue
		}
		assert.Contains(t, allowed, name, "the top level is fixed")
	}
}
