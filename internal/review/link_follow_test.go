package review

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"afterfit/internal/bundle"
	"afterfit/internal/intake"
	"afterfit/internal/store"
)

// linkedDump writes everything that is linked, row for row and without the numbers,
// which say nothing but what belongs together.
var linkedDump = []string{
	"SELECT * EXCLUDE (denture_no, patient_no), denture_no % 2 = 1 AS odd, patient_no % 10 AS lot FROM linked_dentures JOIN linked_patients USING (patient_no) ORDER BY ALL",
	"SELECT d.case_id, d.arch, e.* EXCLUDE (denture_no) FROM linked_events e LEFT JOIN linked_dentures d USING (denture_no) ORDER BY ALL",
	"SELECT d.case_id, d.arch, f.* EXCLUDE (denture_no) FROM linked_firsts f LEFT JOIN linked_dentures d USING (denture_no) ORDER BY ALL",
	"SELECT 'numbers', count(*), count(DISTINCT denture_no), count(DISTINCT patient_no), count(DISTINCT patient_key), count(DISTINCT (patient_no, patient_key)) FROM linked_dentures JOIN linked_patients USING (patient_no)",
	"SELECT * FROM linked_repeats ORDER BY ALL",
	"SELECT * FROM linked_houses ORDER BY ALL",
	"SELECT * FROM linked_remakes ORDER BY ALL",
}

func dumpLinked(ctx context.Context, t *testing.T, c *sql.Conn) (out []string) {
	t.Helper()
	for _, q := range linkedDump {
		out = append(out, linesOf(ctx, t, c, q)...)
	}
	return out
}

func linesOf(ctx context.Context, t *testing.T, c *sql.Conn, q string) (out []string) {
	t.Helper()
	rows, err := c.QueryContext(ctx, "SELECT CAST(x AS VARCHAR) FROM ("+q+") x")
	require.NoError(t, err)
	defer rows.Close()
	for rows.Next() {
		var line string
		require.NoError(t, rows.Scan(&line))
		out = append(out, line)
	}
	require.NoError(t, rows.Err())
	return out
}

// link links everything from nothing.
func link(ctx context.Context, c *sql.Conn, s Settings) error {
	return linkBy(ctx, c, s, fewestLinked)
}

// linkBy does so in portions of so many cases.
func linkBy(ctx context.Context, c *sql.Conn, s Settings, portion int) error {
	return (&linker{c: c, s: s, portion: portion}).link(ctx, links{}, links{Rules: "all"})
}

var errRollBack = errors.New("only looked")

// anew gives what linking everything from nothing gives, and leaves the store as it is.
func anew(ctx context.Context, t *testing.T, st *store.Store) (out []string) {
	t.Helper()
	err := st.Tx(ctx, func(ctx context.Context, c *sql.Conn) error {
		require.NoError(t, linkBy(ctx, c, DefaultSettings(), poolCases/7))
		out = dumpLinked(ctx, t, c)
		return errRollBack
	})
	require.ErrorIs(t, err, errRollBack)
	return out
}

func followed(ctx context.Context, t *testing.T, st *store.Store) []string {
	t.Helper()
	c, err := st.DB().Conn(ctx)
	require.NoError(t, err)
	defer func() { require.NoError(t, c.Close()) }()
	return dumpLinked(ctx, t, c)
}

// exporter invents exports of a pool of cases that hang together in every way that
// the linked tables know of.
type exporter struct {
	*rand.Rand
	t     *testing.T
	dir   string
	loads int
	files map[string]*strings.Builder
	says  [poolCases]uint64 // the version of each case that an export last told of
}

const poolCases, poolSites = 60, 3

// kinds are the changes of a store; a sequence goes through them once and then by chance.
var kinds = []string{"cases", "withdrawal", "adds", "undo"}

func (e *exporter) row(table string, cells ...any) {
	for i, c := range cells {
		if i > 0 {
			e.files[table].WriteByte(',')
		}
		fmt.Fprint(e.files[table], c)
	}
	e.files[table].WriteByte('\n')
}

func (e *exporter) some(p float64) bool       { return e.Float64() < p }
func (e *exporter) of(words ...string) string { return words[e.IntN(len(words))] }

// oneCase writes a case with all that belongs to it, as its version says; the version
// also decides how often readings are repeated.
func (e *exporter) oneCase(n int) {
	was := e.Rand
	e.Rand = rand.New(rand.NewPCG(uint64(n), e.says[n]))
	defer func() { e.Rand = was }()
	id, repeats := fmt.Sprintf("KX%c%03d", 'A'+n%7, n), float64(e.says[n]%5)/4
	again := ""
	if e.some(0.3) {
		again = fmt.Sprintf("KX%c%03d", 'A'+(n/2)%7, n/2)
	}
	on := e.of("2024-03-01", "2024-05-20", "2024-Q3", "2024-11", "2024-12-31")
	e.row("cases", id, fmt.Sprintf("PX%02dQ", n/3), fmt.Sprintf("S%d", n%poolSites), fmt.Sprintf("C%d", n%5), e.of("", "L1"), on, e.of("60-69", "70-79", ""), e.of("female", "male", ""),
		1+e.IntN(4), e.of("sound", "unsound", "unknown", ""), e.of("first", "remake"), e.of("qualified", ""), again, 200+e.IntN(500), e.of("export", "died", ""))
	e.row("records", id, e.of("", "66.0"), e.of("61.5", "65.0"), e.of("", "3.0"), e.of("existing_denture", "rest_minus_freeway", "unknown"), "", "", e.of("yes", "unknown", ""), e.of("15.0", ""), "2.0", e.of("guided", "swallow"), e.of("1", "2"))
	for _, measure := range []string{"vdr", "vdo"} {
		for take := range 1 + e.IntN(2) {
			if take == 0 || e.some(repeats) {
				e.row("readings", id, measure, take+1, e.of("61.0", "62.5", "64.0"), e.of("", "", fmt.Sprintf("C%d", n%5), "C9"))
			}
		}
	}
	for _, arch := range []string{"upper", "lower"} {
		if e.some(0.85) {
			e.row("dentures", id, arch, e.of("21", "36", "80", ""), "", "", e.of("yes", "no", "unknown"))
			if e.some(0.9) {
				e.row("trays", id, arch, "", e.of("eye", "measured", "unknown"), e.of("1.0", ""), e.of("1.5", "3.5"), "", e.of("full", "partial", ""), e.of("none", "ridge|border", "soft_palate", ""), e.of("yes", "no"), e.of("1", "2"), e.of("single_phase", ""))
			}
			for e.some(0.5) {
				e.row("remakes", id, arch, 90+e.IntN(200), e.of("remake", "reline", "rebase", "reset"), "")
			}
		}
	}
	for i := range e.IntN(4) {
		e.visit(id, fmt.Sprintf("VX%sV%dN%d", id, e.says[n], i))
	}
}

// newVersions makes the export of some cases say something new.
func (e *exporter) newVersions(n int) []int {
	e.loads++
	chosen := e.Perm(poolCases)[:n]
	repeats := e.IntN(5)
	for _, i := range chosen {
		e.says[i] = uint64(5*e.loads + repeats)
	}
	return chosen
}

func (e *exporter) visit(id, visit string) {
	e.row("visits", visit, id, e.IntN(250), e.of("upper", "lower", "both", ""), e.of("planned", "complaint"), e.of("yes", "no"), e.of("20", ""), e.of("sore", "too_tall|sore", "shows_too_much", ""), "")
	for range e.IntN(3) {
		e.row("sore_spots", visit, e.of("upper", "lower"), "labial_frenum", "", 1+e.IntN(3))
	}
}

// write writes an export and gives its folder.
func (e *exporter) write(note string, fill func()) string {
	e.files = map[string]*strings.Builder{}
	for _, tb := range bundle.Tables {
		e.files[tb.Name] = &strings.Builder{}
		fmt.Fprintln(e.files[tb.Name], strings.Join(tb.Names(), ","))
	}
	fill()
	dir := filepath.Join(e.dir, fmt.Sprint(e.loads))
	require.NoError(e.t, os.Mkdir(dir, 0o750))
	for name, text := range e.files {
		require.NoError(e.t, os.WriteFile(filepath.Join(dir, name+".csv"), []byte(text.String()), 0o600))
	}
	require.NoError(e.t, os.WriteFile(filepath.Join(dir, "bundle.toml"), []byte("basis = \"limited_data_set\"\ninvented = true\n"+note), 0o600))
	return dir
}

// everyCase loads an export of all cases, and links it.
func (e *exporter) everyCase(ctx context.Context, st *store.Store) {
	_, err := intake.Load(ctx, st, e.write("", func() {
		e.newVersions(poolCases)
		for n := range poolCases {
			e.oneCase(n)
		}
	}), intake.LoadOptions{SetAsideLimit: 1})
	require.NoError(e.t, err)
	require.NoError(e.t, EnsureLinked(ctx, st, DefaultSettings()))
}

// change makes one change of the store: an export of some cases, one that withdraws a
// few and repeats all others, single rows for cases that are there, or the undoing of a
// load.
func (e *exporter) change(ctx context.Context, st *store.Store, kind string) string {
	note := ""
	fill := func() {
		for _, i := range e.newVersions(1 + e.IntN(5)) {
			e.oneCase(i)
		}
	}
	switch kind {
	case "undo":
		return e.undo(ctx, st)
	case "withdrawal":
		note = "complete = true\n"
		fill = func() {
			gone := e.newVersions(1 + e.IntN(4))
			for i := range poolCases {
				if !slices.Contains(gone, i) {
					e.oneCase(i)
				}
			}
		}
	case "adds":
		note = "adds = true\n"
		fill = func() { e.additions(ctx, st) }
	}
	_, err := intake.Load(ctx, st, e.write(note, fill), intake.LoadOptions{SetAsideLimit: 1})
	require.NoError(e.t, err)
	return kind
}

// additions are visits of cases and sore spots of visits that the store has.
func (e *exporter) additions(ctx context.Context, st *store.Store) {
	e.loads++
	for i := range 3 {
		var id, visit string
		by := fmt.Sprint(e.IntN(1000))
		require.NoError(e.t, st.DB().QueryRowContext(ctx, "SELECT case_id FROM cases ORDER BY md5(case_id || ?) LIMIT 1", by).Scan(&id))
		if i == 0 {
			e.visit(id, fmt.Sprintf("VX%sA%d", id, e.loads))
		}
		require.NoError(e.t, st.DB().QueryRowContext(ctx, "SELECT visit_id FROM visits ORDER BY md5(visit_id || ?) LIMIT 1", by).Scan(&visit))
		e.row("sore_spots", visit, e.of("upper", "lower"), "labial_frenum", "", 1+e.IntN(3))
	}
}

func (e *exporter) undo(ctx context.Context, st *store.Store) string {
	all, err := st.Loads(ctx)
	require.NoError(e.t, err)
	standing := slices.DeleteFunc(all, func(l store.LoadInfo) bool { return l.Undone })
	if len(standing) < 2 {
		return "nothing"
	}
	last := min(3, len(standing)-1) // nearly always the latest; an older one if nothing builds on it
	_, err = st.Undo(ctx, standing[len(standing)-1-e.IntN(last)].LoadID, time.Time{})
	var refused *store.UndoRefusal
	if errors.As(err, &refused) {
		return "nothing"
	}
	require.NoError(e.t, err)
	return "undo"
}

// TestLinkFollowsEveryLoad takes stores through chance sequences of exports,
// corrections, withdrawals, additions and undoings, and holds the linked tables after
// each to those that are built from nothing, and the store's fingerprint likewise. Some changes are linked two at a time, as
// after a program that was stopped between a load and its link.
func TestLinkFollowsEveryLoad(t *testing.T) {
	ctx := context.Background()
	done := map[string]int{}
	for seed := range followSeeds {
		e := &exporter{Rand: rand.New(rand.NewPCG(seed, 7)), t: t, dir: t.TempDir()}
		st := loaded(t, 1)
		e.everyCase(ctx, st)
		for step := range followSteps {
			kind := kinds[e.IntN(len(kinds))]
			if step < len(kinds) {
				kind = kinds[step]
			}
			kind = e.change(ctx, st, kind)
			if step >= len(kinds) && e.some(0.2) {
				continue
			}
			cases, err := catchUp(ctx, st, DefaultSettings())
			require.NoError(t, err)
			require.Equal(t, anew(ctx, t, st), followed(ctx, t, st), "seed %d, step %d: %s", seed, step, kind)
			known, err := st.KnownFingerprint(ctx)
			require.NoError(t, err)
			whole, err := st.Fingerprint(ctx)
			require.NoError(t, err)
			require.Equal(t, whole, known, "seed %d, step %d: the fingerprint after %s", seed, step, kind)
			if cases == 0 { // a load that was undone before it was ever linked
				continue
			}
			if cases > 0 {
				done[kind]++
			}
			var left int
			require.NoError(t, st.DB().QueryRow("SELECT count(*) FROM unlinked").Scan(&left))
			require.Zero(t, left)
		}
		if followSteps > len(kinds) && seed == 0 {
			sameFindings(ctx, t, st)
		}
	}
	t.Log("followed", done)
	for _, kind := range kinds {
		assert.GreaterOrEqual(t, done[kind], int(followSeeds), "%s were not followed often enough to prove anything", kind)
	}
}

// sameFindings holds a review of a store as it is to one of the same store linked anew.
func sameFindings(ctx context.Context, t *testing.T, st *store.Store) {
	t.Helper()
	s := DefaultSettings()
	s.MinDentures = 5
	review := func() string {
		f, err := Run(ctx, st, s, Header{})
		require.NoError(t, err)
		text, err := json.Marshal(f)
		require.NoError(t, err)
		return string(text)
	}
	was := review()
	require.NoError(t, st.Tx(ctx, func(ctx context.Context, c *sql.Conn) error { return st.SetMeta(ctx, c, linkKey, "") }))
	assert.Equal(t, was, review())
}
