//go:build faults

package intake

import (
	"bytes"
	"context"
	"errors"
	stdflag "flag"
	"fmt"
	"os"
	"runtime/debug"
	"slices"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"afterfit/internal/bundle"
	"afterfit/internal/mapping"
	"afterfit/internal/store"
)

var (
	mutants    = stdflag.Int("mutants", 300, "how many changed exports are loaded")
	mutantSeed = stdflag.Uint64("mutant-seed", 2026, "seed of the changes")
	fromMutant = stdflag.Int("mutants-from", 0, "and from which on")
	oneMutant  = stdflag.Int("mutant", -1, "load this changed export alone")
)

// What one load of a few rows may take at most: time of the processor, and on the clock
// of a machine that has much else to do.
const (
	slowest = 20 * time.Second
	stuck   = 5 * time.Minute
)

// spent is the processor's time that this process has used.
func spent() time.Duration {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		return 0
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

// TestMutants loads exports of a few invented cases into which faults were put, in
// every form that a load takes. Whatever stands in them: no panic, no hang, an
// export is refused with its file and a remedy and the store stays as it was, or
// every row is accounted for and the store is sound. Run
// -args -mutants 10000 for all of them.
func TestMutants(t *testing.T) {
	first, last := *fromMutant, *fromMutant+*mutants
	if *oneMutant >= 0 {
		first, last = *oneMutant, *oneMutant+1
	}
	h := &mutantHarness{t: t, outcome: map[string]int{}}
	defer h.close()
	for i := first; i < last; i++ {
		if h.used++; h.st == nil || h.used > 100 {
			h.renew()
		}
		if err := h.try(i); err != nil {
			t.Errorf("mutant %d: %v", i, err)
			if h.failed++; h.failed == 25 {
				t.Fatal("too many failures")
			}
			h.used = 1 << 20
		}
	}
	t.Logf("%d changed exports of seed %d: %v", last-first, *mutantSeed, h.outcome)
	if last-first >= 300 { // a harness whose exports are all refused would prove little
		require.Greater(t, h.outcome["loaded"], (last-first)/10)
		require.Greater(t, h.outcome["refused"], (last-first)/10)
		require.Greater(t, h.outcome["rows set aside"], (last-first)/10)
	}
}

type mutantHarness struct {
	t           *testing.T
	st          *store.Store
	last        string // the marks of st
	used, loads int
	failed      int
	outcome     map[string]int
}

func (h *mutantHarness) close() {
	if h.st != nil {
		require.NoError(h.t, h.st.Close())
	}
}

func (h *mutantHarness) renew() {
	var err error
	if h.st != nil {
		require.NoError(h.t, h.sound())
	}
	h.close()
	h.st, err = store.Open(context.Background(), "", store.Options{Threads: 1})
	require.NoError(h.t, err)
	h.used = 0
	_, err = Load(context.Background(), h.st, write(h.t, small), LoadOptions{})
	require.NoError(h.t, err)
	h.last, err = marks(h.st)
	require.NoError(h.t, err)
}

// try makes and loads one mutant.
func (h *mutantHarness) try(i int) (err error) {
	dir, err := os.MkdirTemp("", "mutant-*")
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, os.RemoveAll(dir)) }()
	m := makeMutant(h.t, *mutantSeed, i, dir)
	defer func() {
		if err != nil {
			err = fmt.Errorf("%s, %s: %w", m.form, strings.Join(m.done, "; "), err)
		}
	}()
	if i%twinEach == 0 {
		if err := h.twins(m); err != nil {
			return err
		}
	}
	before := h.last
	limit := 1.0
	if i%5 == 0 {
		limit = 0.3
	}
	res, err := inTime(h.st, m, limit)
	var late *lateError
	if errors.As(err, &late) {
		return err
	}
	var markErr error
	if h.last, markErr = marks(h.st); markErr != nil {
		return errors.Join(markErr, err)
	}
	h.outcome[m.form]++
	if err != nil {
		h.outcome["refused"]++
		return h.refused(m, err, before)
	}
	if res.Unchanged {
		h.outcome["unchanged"]++
		if h.last != before {
			return fmt.Errorf("nothing was said to be new, but the store is %s and was %s", h.last, before)
		}
		return nil
	}
	h.outcome["loaded"]++
	return h.loaded(m, res)
}

// twinEach says how many changed exports are loaded in both ways.
const twinEach = 50

// twins loads an export over a sound one with rows sound for certain taken straight, and
// with every row judged by the rules: both must say and store the same.
func (h *mutantHarness) twins(m *mutant) (err error) {
	ctx, first := context.Background(), write(h.t, small)
	var said [2]string
	var has [2]map[string][]string
	for way, judgeAll := range []bool{false, true} {
		st, err := store.Open(ctx, "", store.Options{Threads: 1})
		if err != nil {
			return err
		}
		_, err = Load(ctx, st, first, LoadOptions{judgeAll: judgeAll})
		if err == nil {
			_, refused := Load(ctx, st, m.path, LoadOptions{Mapping: m.mapping, SetAsideLimit: 1, judgeAll: judgeAll})
			said[way], has[way] = fmt.Sprint(refused), ledger(h.t, st)
		}
		if err := errors.Join(err, st.Close()); err != nil {
			return err
		}
	}
	h.outcome["loaded both ways"]++
	if said[0] != said[1] {
		return fmt.Errorf("loaded straight: %s\nwith every row judged: %s", said[0], said[1])
	}
	for name, rows := range has[1] {
		if !slices.Equal(rows, has[0][name]) {
			return fmt.Errorf("%s differs: loaded straight %q, with every row judged %q", name, has[0][name], rows)
		}
	}
	return nil
}

// lateError is a load that panicked or did not come to an end.
type lateError struct{ found string }

func (e *lateError) Error() string { return e.found }

// inTime loads with a deadline, and one behind it for a load that does not listen.
func inTime(st *store.Store, m *mutant, limit float64) (res *LoadResult, err error) {
	ctx, cancel := context.WithTimeout(context.Background(), stuck)
	defer cancel()
	before := spent()
	done := make(chan struct{})
	go func() {
		defer close(done)
		defer func() {
			if p := recover(); p != nil {
				err = &lateError{fmt.Sprintf("panic: %v\n%s", p, debug.Stack())}
			}
		}()
		res, err = Load(ctx, st, m.path, LoadOptions{Mapping: m.mapping, SetAsideLimit: limit})
	}()
	select {
	case <-done:
	case <-time.After(2 * stuck):
		return nil, &lateError{"the load hangs"}
	}
	if used := spent() - before; used > slowest || ctx.Err() != nil {
		return nil, &lateError{fmt.Sprintf("the load took %v of the processor's time", used)}
	}
	return res, err
}

// marks tells whether a store changed: how many rows every table has, and their bits
// laid over one another.
func marks(st *store.Store) (string, error) {
	var counts []string
	for _, t := range bundle.Tables {
		for _, schema := range []string{"main", store.History} {
			counts = append(counts, fmt.Sprintf("(SELECT count(*) || ':' || bit_xor(hash(x)) FROM %s.%s x)", schema, t.Name))
		}
	}
	for _, table := range []string{"loads", "balance", "set_aside", "flags", "load_rows", "load_files", "load_notes", "load_needs", "seen", "corrected"} {
		counts = append(counts, "(SELECT count(*)::VARCHAR FROM "+table+")")
	}
	var all string
	err := st.DB().QueryRowContext(context.Background(), "SELECT concat_ws(' ', "+strings.Join(counts, ", ")+")").Scan(&all)
	return all, err
}

// refused holds what a refusal owes: it is about the export, it names what it is
// about and what to do, a line that it names is there, and the store is as before.
func (h *mutantHarness) refused(m *mutant, err error, before string) error {
	var fault Fault
	var refusal *Refusal
	var wrong wrongMapping
	switch {
	case errors.As(err, &fault):
		if fault.File == "" || fault.Found == "" || fault.Remedy == "" {
			return fmt.Errorf("a refusal that lacks a part: %w", err)
		}
		if most := m.lines(fault.File); fault.Line > most {
			return fmt.Errorf("a refusal names line %d of %d: %w", fault.Line, most, err)
		}
	case errors.As(err, &refusal):
		for _, f := range refusal.Faults {
			if err := m.stands(f.File, f.Line, f.Column); err != nil {
				return err
			}
		}
	case errors.As(err, &wrong):
	case errors.Is(err, ErrBadData):
	default:
		return fmt.Errorf("no refusal of the export but a fault: %w", err)
	}
	if h.last != before {
		return fmt.Errorf("refused (%w), but the store is %s and was %s", err, h.last, before)
	}
	return nil
}

// loaded holds the balances and the places that the ledger names.
func (h *mutantHarness) loaded(m *mutant, res *LoadResult) error {
	sums := map[string]Balance{}
	for _, o := range res.Outcomes {
		if o.Made != o.Kept+o.SetAside+o.Repeats {
			return fmt.Errorf("%s of %s: %d rows are not %d kept, %d set aside and %d repeats", o.Table, o.File, o.Made, o.Kept, o.SetAside, o.Repeats)
		}
		s := sums[o.Table]
		sums[o.Table] = Balance{Table: o.Table, Read: s.Read + o.Made, Kept: s.Kept + o.Kept, SetAside: s.SetAside + o.SetAside, Repeats: s.Repeats + o.Repeats}
	}
	for _, b := range res.Balance {
		s := sums[b.Table]
		if !b.Holds() || s.Read != b.Read || s.Kept != b.Kept || s.SetAside != b.SetAside || s.Repeats != b.Repeats {
			return fmt.Errorf("the balance of %s does not hold: %+v, by file %+v", b.Table, b, s)
		}
		if want, known := m.rows(b.Table); known && m.isBundle() && want != b.Read {
			return fmt.Errorf("%s: %d rows were written, %d read", b.Table, want, b.Read)
		}
	}
	for _, b := range res.Sources {
		if !b.Holds() {
			return fmt.Errorf("the account of %s does not hold: %+v", b.SheetID, b)
		}
		if want, known := m.written(b.SheetID); known && want != b.Rows {
			return fmt.Errorf("%s: %d rows were written, %d accounted for", b.SheetID, want, b.Rows)
		}
	}
	if h.loads++; h.loads%verifyEach == 0 {
		if err := h.sound(); err != nil {
			return err
		}
	}
	return h.places(m, res.LoadID)
}

// verifyEach says after how many loads the whole store is recounted: an unsound one
// stays unsound, so that none is missed.
const verifyEach = 10

// sound recounts the whole store.
func (h *mutantHarness) sound() error {
	rep, err := h.st.Verify(context.Background())
	if err == nil && len(rep.Problems) > 0 {
		err = fmt.Errorf("one of the last %d loads left the store unsound: %v", verifyEach, rep.Problems)
	}
	return err
}

// places holds that every row set aside names a line and a column that are there.
func (h *mutantHarness) places(m *mutant, load int64) error {
	rows, err := h.st.DB().QueryContext(context.Background(), "SELECT file, line, coalesce(column_name, ''), coalesce(reason, '') FROM set_aside WHERE load_id = ?", load)
	if err != nil {
		return err
	}
	defer func() { _ = rows.Close() }() // only read from
	some := false
	for rows.Next() {
		some = true
		var file, column, reason string
		var line int64
		if err := rows.Scan(&file, &line, &column, &reason); err != nil {
			return err
		}
		if reason == "" || line < 1 {
			return fmt.Errorf("a row of %s is set aside at line %d for the reason %q", file, line, reason)
		}
		if err := m.stands(file, line, column); err != nil {
			return err
		}
	}
	if some {
		h.outcome["rows set aside"]++
	}
	return rows.Err()
}

// parts cuts what a message calls a place into file and sheet.
func parts(label string) (file, sheet string) {
	if at := strings.IndexByte(label, '['); at > 0 && strings.HasSuffix(label, "]") {
		return label[:at], label[at+1 : len(label)-1]
	}
	return label, ""
}

// grid finds what was written where a label points to, nil where bytes of it were
// changed afterwards.
func (m *mutant) grid(label string) [][]string {
	file, sheet := parts(label)
	if m.cut[file] {
		return nil
	}
	if sheet == "" {
		sheet = strings.TrimSuffix(file, m.ending())
	}
	return m.grids[sheet]
}

// lines counts the lines of a file or the rows of a sheet.
func (m *mutant) lines(label string) int64 {
	file, sheet := parts(label)
	if sheet != "" {
		if g := m.grid(label); g != nil {
			return int64(len(g))
		}
		return 1 << 20
	}
	text := m.texts[file]
	if m.form == "utf-16" {
		text = bytes.ReplaceAll(text, []byte{0}, nil)
	}
	n := max(bytes.Count(text, []byte{'\n'}), bytes.Count(text, []byte{'\r'}))
	return int64(n) + 1
}

// stands reports a place that the export does not have.
func (m *mutant) stands(label string, line int64, column string) error {
	file, _ := parts(label)
	if _, ok := m.texts[file]; !ok {
		return fmt.Errorf("a row set aside is said to stand in %q, which was not written", label)
	}
	if line > m.lines(label) {
		return fmt.Errorf("%s has %d lines, a row set aside is said to stand on line %d", label, m.lines(label), line)
	}
	g := m.grid(label)
	if column == "" || g == nil {
		return nil
	}
	for _, part := range strings.FieldsFunc(strings.NewReplacer(" + ", "\x00", " or ", "\x00").Replace(column), func(r rune) bool { return r == 0 }) {
		if part == "(the mapping)" {
			continue
		}
		if !m.hasColumn(g, part) {
			return fmt.Errorf("%s:%d is set aside for column %q, which the file does not have", label, line, part)
		}
	}
	return nil
}

func (m *mutant) hasColumn(g [][]string, word string) bool {
	for _, row := range g[:min(len(g), headerSearch+1)] {
		for _, c := range row {
			if strings.EqualFold(strings.Join(strings.Fields(c), " "), strings.Join(strings.Fields(word), " ")) || strings.Contains(word, "#") {
				return true
			}
		}
	}
	return false
}

// rows counts the rows of data that were written for a table of a bundle.
func (m *mutant) rows(table string) (int64, bool) {
	g, ok := m.grids[table]
	if !ok || m.cut[table+m.ending()] || m.cut["export.xlsx"] || len(g) == 0 {
		return 0, false
	}
	n := int64(-1) // the header
	for _, row := range g {
		joined := strings.Join(row, "")
		if m.form == "bundle.xlsx" && joined == "" {
			continue
		}
		if strings.Trim(joined, " \t\r\n\v\f\u0085\u00a0") == "" && len(row) < 2 {
			continue
		}
		if len(row) > 0 && row[0] == mutantTitle && n == -1 { // a heading above the names, which a workbook may have
			continue
		}
		n++
	}
	return n, true
}

// written counts all rows that were written of a sheet.
func (m *mutant) written(id mapping.SheetID) (int64, bool) {
	name := id.Sheet
	if name == "" {
		name = strings.TrimSuffix(id.File, m.ending())
	}
	g, ok := m.grids[name]
	if !ok || m.cut[id.File] || m.form == "xlsx" || m.form == "ndjson" {
		return 0, false
	}
	return int64(len(g)), true
}
