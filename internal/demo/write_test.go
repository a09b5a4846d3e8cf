package demo

import (
	"context"
	"database/sql"
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

// TestServicesShareTheCases: more services bring clinicians and sites of their own; the
// first keeps its people, and one service is what a bundle of the usual size tells of.
func TestServicesShareTheCases(t *testing.T) {
	assert.Equal(t, []int{1, 1, 2, 27, 27}, []int{servicesFor(1), servicesFor(37_500), servicesFor(37_501), servicesFor(1_000_000), servicesFor(10_000_000)})
	codes := map[string]string{}
	for _, c := range staffOf(27) {
		assert.NotContains(t, codes, c.code)
		codes[c.code] = c.site
	}
	assert.Len(t, codes, 405)
	assert.Equal(t, "H1", codes["D01"])
	assert.Equal(t, "H81", codes["D405"])
	seen := map[string]bool{}
	for _, line := range strings.Split(invent(t, Options{Cases: 400, Services: 2})["cases.csv"], "\n")[1:] {
		if cells := strings.Split(line, ","); len(cells) > 3 {
			seen[cells[3]] = true
			assert.Equal(t, codes[cells[3]], cells[2])
		}
	}
	assert.Len(t, seen, 30)
}

// TestParquetHoldsTheSameRows reads the Parquet tables back as text and sets them
// beside the CSV of the same options.
func TestParquetHoldsTheSameRows(t *testing.T) {
	text := invent(t, Options{Cases: 300})
	dir := t.TempDir()
	require.NoError(t, Write(t.Context(), dir, Options{Cases: 20})) // CSV tables that have to go
	require.NoError(t, Write(t.Context(), dir, Options{Cases: 300, Parquet: true}))
	require.Len(t, contents(t, dir), len(bundle.Tables)+1)
	db, err := sql.Open("duckdb", "")
	require.NoError(t, err)
	defer func() { require.NoError(t, db.Close()) }()
	for _, tb := range bundle.Tables {
		cells := make([]string, len(tb.Columns))
		for i, c := range tb.Columns {
			cells[i] = "coalesce(" + c.Name + "::VARCHAR, '')"
			if c.Kind == bundle.Length {
				cells[i] = "coalesce((" + c.Name + "::DECIMAL(6,1))::VARCHAR, '')"
			}
		}
		var rows string
		require.NoError(t, db.QueryRow("SELECT string_agg("+strings.Join(cells, "||','||")+", chr(10) ORDER BY n) || chr(10) FROM (SELECT row_number() OVER () AS n, * FROM read_parquet("+
			literal(filepath.Join(dir, tb.Name+".parquet"))+"))").Scan(&rows))
		_, want, _ := strings.Cut(text[tb.Name+".csv"], "\n")
		assert.True(t, want == rows, tb.Name)
	}
}
