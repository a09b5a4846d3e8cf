package demo

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"afterfit/internal/bundle"
)

// contents reads every file of a folder.
func contents(t *testing.T, dir string) map[string]string {
	t.Helper()
	entries, err := os.ReadDir(dir)
	require.NoError(t, err)
	files := map[string]string{}
	for _, e := range entries {
		raw, err := os.ReadFile(filepath.Join(dir, e.Name()))
		require.NoError(t, err)
		files[e.Name()] = string(raw)
	}
	return files
}

func invent(t *testing.T, opt Options) map[string]string {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "new", "folder")
	require.NoError(t, Write(t.Context(), dir, opt))
	return contents(t, dir)
}

func TestSameOptionsSameBytes(t *testing.T) {
	a, b, other := invent(t, Options{Cases: 700}), invent(t, Options{Cases: 700, Seed: DefaultSeed}), invent(t, Options{Cases: 700, Seed: 5})
	require.Len(t, a, len(bundle.Tables)+1)
	for name := range a {
		assert.True(t, a[name] == b[name], name)
		assert.Equal(t, name == "bundle.toml", a[name] == other[name], "%s and another seed", name)
	}
	assert.Contains(t, a["bundle.toml"], "invented = true")
	assert.Contains(t, a["bundle.toml"], `basis = "consented_local"`)
}

func TestSmallerBundleIsAPrefix(t *testing.T) {
	large := invent(t, Options{Cases: 900})
	for _, n := range []int{1, 2, 333, 899} {
		small := invent(t, Options{Cases: n})
		for name := range small {
			assert.True(t, strings.HasPrefix(large[name], small[name]), "%s of %d cases", name, n)
		}
		assert.Equal(t, n+1, strings.Count(small["cases.csv"], "\n"))
	}
}

func TestWriteLeavesNothingBehind(t *testing.T) {
	ended, cancel := context.WithCancel(t.Context())
	cancel()
	dir := t.TempDir()
	require.ErrorIs(t, Write(ended, dir, Options{}), context.Canceled)
	assert.Empty(t, contents(t, dir))
	require.ErrorContains(t, Write(t.Context(), dir, Options{Cases: -1}), "-1 cases")
	assert.Empty(t, contents(t, dir))
	file := filepath.Join(dir, "taken")
	require.NoError(t, os.WriteFile(file, nil, 0o600))
	require.Error(t, Write(t.Context(), file, Options{Cases: 1}))
}

func TestSheetRefusesAShortRow(t *testing.T) {
	tb, ok := bundle.Find("sore_spots")
	require.True(t, ok)
	var b strings.Builder
	s := newSheet(tb, &b)
	s.text("V000000001")
	s.end()
	require.ErrorContains(t, s.err, "1 cells where the contract has 5 columns")
}

func TestSheetWritesCells(t *testing.T) {
	tb, _ := bundle.Find("readings")
	var b strings.Builder
	s := newSheet(tb, &b)
	s.id('C', 12)
	s.length(-5)
	s.length(missing)
	s.number(missing)
	s.list([]string{"a", "b", "c"}, 0b101)
	s.end()
	s.id('C', 1234567890)
	s.length(605)
	s.number(0)
	s.list(nil, 0)
	s.id('C', 0)
	s.end()
	s.flush()
	require.NoError(t, s.err)
	_, rows, _ := strings.Cut(b.String(), "\n")
	assert.Equal(t, "C000000012,-0.5,,,a|c\nC1234567890,60.5,0,,\n", rows)
}

// BenchmarkWrite reports cases a second; the files go to the folder for temporary
// files.
func BenchmarkWrite(b *testing.B) {
	const n = 100_000
	dir := b.TempDir()
	for b.Loop() {
		if err := Write(b.Context(), dir, Options{Cases: n}); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(n)*float64(b.N)/b.Elapsed().Seconds(), "cases/s")
}
