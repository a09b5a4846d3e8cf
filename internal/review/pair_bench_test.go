//go:build bench && unix

package review

import (
	"context"
	"flag"
	"fmt"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"afterfit/internal/store"
)

var (
	benchStore = flag.String("store", "", "an existing store whose pairs and curves are timed")
	benchLimit = flag.String("limit", "", "memory limit of the database for these")
	benchOnly  = flag.String("only", "", "pairs or doses alone, or pack for all questions")
)

// TestBenchStatements says what every statement of the pairs, of the curves or of a whole
// pack takes, summed over its runs: clock and processor time with the reading of its rows.
// What the sum lacks of the whole is spent in Go.
func TestBenchStatements(t *testing.T) {
	ctx := context.Background()
	st := benched(ctx, t)
	q, err := newAsker(ctx, st, DefaultSettings())
	require.NoError(t, err)
	defer func() { require.NoError(t, q.c.Close()) }()
	for _, f := range []struct {
		name string
		ask  func() error
	}{
		{"pairs", func() error { _, err := q.pairFindings(ctx, habitHypotheses()); return err }},
		{"doses", func() error { _, err := q.doses(ctx); return err }},
		{"pack", func() error { return q.find(ctx, &Findings{}) }},
	} {
		if *benchOnly == f.name || *benchOnly == "" && f.name != "pack" {
			t.Log(statementTimes(t, q, f.name, f.ask))
		}
	}
}

// benched is the store named, or the invented service at its usual size.
func benched(ctx context.Context, t *testing.T) *store.Store {
	t.Helper()
	if *benchStore == "" {
		return service(t)
	}
	st, err := store.Open(ctx, *benchStore, store.Options{Memory: *benchLimit})
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, st.Close()) })
	return st
}

// spent is what the runs of one statement took.
type spent struct {
	runs      int
	wall, cpu time.Duration
}

func processorTime(t *testing.T) time.Duration {
	t.Helper()
	var u syscall.Rusage
	require.NoError(t, syscall.Getrusage(syscall.RUSAGE_SELF, &u))
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

// statementTimes asks and gives a line for the whole and for each statement, in the
// order in which they first ran.
func statementTimes(t *testing.T, q *asker, name string, ask func() error) string {
	t.Helper()
	by, order, whole := map[string]*spent{}, []string{}, spent{}
	measure := func(into *spent) func() {
		start, before := time.Now(), processorTime(t)
		return func() {
			into.runs++
			into.wall, into.cpu = into.wall+time.Since(start), into.cpu+processorTime(t)-before
		}
	}
	q.watch = func(statement string) func() {
		if by[statement] == nil {
			by[statement], order = &spent{}, append(order, statement)
		}
		return measure(by[statement])
	}
	ended := measure(&whole)
	require.NoError(t, ask())
	ended()
	require.NotEmpty(t, order, "no statement was watched")
	q.watch = nil
	var b strings.Builder
	line := func(name string, s *spent) {
		fmt.Fprintf(&b, "\n%-20s %4d runs %8.2f s by the clock %8.2f s of processor time", name, s.runs, s.wall.Seconds(), s.cpu.Seconds())
	}
	line(name, &whole)
	for _, s := range order {
		line("  "+s, by[s])
	}
	return b.String()
}
