//go:build bench && unix

package review_test

import (
	"bytes"
	"context"
	"database/sql"
	"flag"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"afterfit/internal/bundle"
	"afterfit/internal/demo"
	"afterfit/internal/intake"
	"afterfit/internal/page"
	"afterfit/internal/review"
	"afterfit/internal/store"
)

var (
	benchCases = flag.String("cases", "10000", "numbers of cases, joined by commas")
	benchTable = flag.String("table", "", "a file to write the table to as well")
	benchDir   = flag.String("dir", "", "folder for the files, about 2 KB a case; they are removed")
	benchMem   = flag.String("memory", "", "memory limit of the database")
	benchLink  = flag.Bool("link", false, "end after the link and a month's load and link")
)

// measure is what one step took. Processor time tells more than the clock where other
// programs run beside.
type measure struct {
	wall, cpu time.Duration
}

func timed(t *testing.T, fn func()) measure {
	t.Helper()
	start, before := time.Now(), cpuTime(t)
	fn()
	return measure{time.Since(start), cpuTime(t) - before}
}

func cpuTime(t *testing.T) time.Duration {
	t.Helper()
	var u syscall.Rusage
	require.NoError(t, syscall.Getrusage(syscall.RUSAGE_SELF, &u))
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

// procLine finds a line of a file below /proc, "" where there is none.
func procLine(file, key string) string {
	raw, _ := os.ReadFile(file) // absent on other systems
	for line := range strings.Lines(string(raw)) {
		if name, value, ok := strings.Cut(line, ":"); ok && strings.TrimSpace(name) == key {
			return strings.TrimSpace(value)
		}
	}
	return ""
}

// sheet collects the lines of the table.
type sheet struct{ b strings.Builder }

func (s *sheet) line(cells ...string) { fmt.Fprintf(&s.b, "| %s |\n", strings.Join(cells, " | ")) }

// step writes one step beside its yardstick, which is nil where there is none.
func (s *sheet) step(cases int, name string, m measure, beside string, yard *measure, limit string) {
	ratio := ""
	if yard != nil {
		ratio = fmt.Sprintf("%.1f x %s", m.cpu.Seconds()/max(yard.cpu.Seconds(), 1e-3), beside)
	}
	s.line(strconv.Itoa(cases), name, fmt.Sprintf("%.2f", m.wall.Seconds()), fmt.Sprintf("%.2f", m.cpu.Seconds()), ratio, limit, procLine("/proc/self/status", "VmHWM"))
}

// TestBenchTable times every step of the work on the invented service at each size
// asked for, each beside a yardstick measured in the same run, and writes a table.
// Nothing here fails for being slow: limits stand beside the figures.
func TestBenchTable(t *testing.T) {
	var s sheet
	fmt.Fprintf(&s.b, "%s/%s, %d processors (%s), %s, DuckDB %s\n\n", runtime.GOOS, runtime.GOARCH, runtime.NumCPU(), procLine("/proc/cpuinfo", "model name"), runtime.Version(), duckVersion(t))
	s.line("cases", "step", "clock s", "processor s", "processor time over yardstick", "limit", "most memory so far")
	s.line("---", "---", "---", "---", "---", "---", "---")
	for _, text := range strings.Split(*benchCases, ",") {
		n, err := strconv.Atoi(text)
		require.NoError(t, err)
		benchSize(t, &s, n)
	}
	t.Log("\n" + s.b.String())
	if *benchTable != "" {
		require.NoError(t, os.WriteFile(*benchTable, []byte(s.b.String()), 0o600))
	}
}

func duckVersion(t *testing.T) (version string) {
	db, err := sql.Open("duckdb", "")
	require.NoError(t, err)
	defer func() { require.NoError(t, db.Close()) }()
	require.NoError(t, db.QueryRow("SELECT version()").Scan(&version))
	return version
}

func benchSize(t *testing.T, s *sheet, n int) {
	ctx := t.Context()
	dir, err := os.MkdirTemp(*benchDir, "afterfit-bench-*")
	require.NoError(t, err)
	defer func() { require.NoError(t, os.RemoveAll(dir)) }()
	export, columnar := filepath.Join(dir, "export"), filepath.Join(dir, "parquet")
	write := timed(t, func() { require.NoError(t, demo.Write(ctx, export, demo.Options{Cases: n})) })
	s.step(n, fmt.Sprintf("write the bundle as text (%.0f cases a second and core)", float64(n)/write.cpu.Seconds()), write, "", nil, "200,000 cases a second and core")
	s.step(n, "write it as Parquet", timed(t, func() { require.NoError(t, demo.Write(ctx, columnar, demo.Options{Cases: n, Parquet: true})) }), "", nil, "")
	bare := timed(t, func() { bareRead(t, export, filepath.Join(dir, "bare.duckdb")) })
	s.step(n, "bare typed read of the text into a DuckDB file", bare, "", nil, "")
	load := func(from, into string) *store.Store {
		st, err := store.Open(ctx, filepath.Join(dir, into), store.Options{Memory: *benchMem})
		require.NoError(t, err)
		_, err = intake.Load(ctx, st, from, intake.LoadOptions{TempDir: dir})
		require.NoError(t, err)
		return st
	}
	var st *store.Store
	s.step(n, "load Parquet", timed(t, func() { require.NoError(t, load(columnar, "columnar.duckdb").Close()) }), "bare read", &bare, "")
	s.step(n, "load text", timed(t, func() { st = load(export, "store.duckdb") }), "bare read", &bare, "1.5 x")
	defer func() { require.NoError(t, st.Close()) }()
	benchQuestions(ctx, t, s, n, st, dir)
}

func benchQuestions(ctx context.Context, t *testing.T, s *sheet, n int, st *store.Store, dir string) {
	set := review.DefaultSettings()
	scan := timed(t, func() { bareScan(t, st) })
	s.step(n, "bare scan of every column", scan, "", nil, "")
	s.step(n, "link", timed(t, func() { require.NoError(t, review.Link(ctx, st, set)) }), "bare scan", &scan, "4 x")
	benchMonth(ctx, t, s, n, st, dir)
	if *benchLink {
		return
	}
	s.step(n, "fingerprint", timed(t, func() { _, err := st.Fingerprint(ctx); require.NoError(t, err) }), "bare scan", &scan, "")
	families, done, err := review.Families(ctx, st, set)
	require.NoError(t, err)
	for _, f := range families {
		s.step(n, f.Name, timed(t, func() { require.NoError(t, f.Ask(ctx)) }), "bare scan", &scan, "")
	}
	require.NoError(t, done())
	var found *review.Findings
	s.step(n, "the whole pack's findings", timed(t, func() { found, err = review.Run(ctx, st, set, review.Header{}); require.NoError(t, err) }), "bare scan", &scan, "25 s and 1.5 GB at 1,000,000")
	var all []review.Summary
	s.step(n, "all summaries", timed(t, func() {
		all, err = review.Summaries(ctx, st, set, review.Header{}, nil, found)
		require.NoError(t, err)
	}), "bare scan", &scan, "10 s for 400 at 1,000,000")
	benchPages(t, s, n, found, all, dir)
}

// benchMonth loads and links another month of the same service on top of its three years.
func benchMonth(ctx context.Context, t *testing.T, s *sheet, n int, st *store.Store, dir string) {
	month := filepath.Join(dir, "month")
	require.NoError(t, demo.Write(ctx, month, demo.Options{Cases: n + n/36}))
	for _, tb := range bundle.Tables {
		cutBundle(t, filepath.Join(dir, "export", tb.Name+".csv"), filepath.Join(month, tb.Name+".csv"))
	}
	require.NoError(t, os.WriteFile(filepath.Join(month, "bundle.toml"), []byte("basis = \"consented_local\"\ninvented = true\n"), 0o600))
	s.step(n, fmt.Sprintf("load another month, %d cases", n/36), timed(t, func() {
		_, err := intake.Load(ctx, st, month, intake.LoadOptions{TempDir: dir})
		require.NoError(t, err)
	}), "", nil, "")
	s.step(n, "link the month", timed(t, func() { require.NoError(t, review.EnsureLinked(ctx, st, review.DefaultSettings())) }), "", nil, "")
}

// cutBundle takes the rows of one file, but for its header, off the beginning of another.
func cutBundle(t *testing.T, before, path string) {
	known, err := os.ReadFile(before)
	require.NoError(t, err)
	all, err := os.ReadFile(path)
	require.NoError(t, err)
	require.True(t, bytes.HasPrefix(all, known))
	head := known[:bytes.IndexByte(known, '\n')+1]
	require.NoError(t, os.WriteFile(path, append(slices.Clone(head), all[len(known):]...), 0o600))
}

// benchPages sets the pages beside writing their bytes.
func benchPages(t *testing.T, s *sheet, n int, found *review.Findings, all []review.Summary, dir string) {
	opt := page.Options{}
	var b strings.Builder
	pages := timed(t, func() {
		require.NoError(t, page.Pack(&b, found, opt))
		for i := range all {
			require.NoError(t, page.Summary(&b, &all[i], opt))
		}
	})
	bytes := timed(t, func() {
		f, err := os.Create(filepath.Join(dir, "pages.html"))
		require.NoError(t, err)
		_, err = io.WriteString(f, b.String())
		require.NoError(t, err)
		require.NoError(t, f.Close())
	})
	s.step(n, fmt.Sprintf("pages: the pack and %d summaries, %d KB", len(all), b.Len()>>10), pages, "writing the bytes", &bytes, "")
}

// bareRead reads every table with its types and nothing else.
func bareRead(t *testing.T, export, into string) {
	db, err := sql.Open("duckdb", into)
	require.NoError(t, err)
	defer func() { require.NoError(t, db.Close()) }()
	for _, tb := range bundle.Tables {
		cols := make([]string, len(tb.Columns))
		for i, c := range tb.Columns {
			cols[i] = store.Quote(c.Name) + ": '" + store.SQLType(c.Kind) + "'"
		}
		_, err := db.Exec(fmt.Sprintf("CREATE TABLE %s AS SELECT * FROM read_csv(%s, auto_detect=false, header=true, delim=',', quote='\"', nullstr='', columns={%s})",
			tb.Name, store.Quote(filepath.Join(export, tb.Name+".csv")), strings.Join(cols, ", ")))
		require.NoError(t, err)
	}
}

// bareScan reads every column of every table once.
func bareScan(t *testing.T, st *store.Store) {
	for _, tb := range bundle.Tables {
		sums := make([]string, len(tb.Columns))
		for i, c := range tb.Columns {
			sums[i] = "max(" + c.Name + ")"
		}
		var n int
		require.NoError(t, st.DB().QueryRow("SELECT length(("+strings.Join(sums, ", ")+", count(*))::VARCHAR) FROM "+tb.Name).Scan(&n))
		require.Positive(t, n)
	}
}
