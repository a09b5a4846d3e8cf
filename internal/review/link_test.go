package review

import (
	"context"
	"database/sql"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/txtar"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"afterfit/internal/bundle"
	"afterfit/internal/habit"
	"afterfit/internal/intake"
	"afterfit/internal/store"
	"afterfit/queries"
)

// linkView shows a linked denture with its outcomes on one line; "-" where none.
const linkView = `SELECT d.case_id, d.arch, patient_key, CAST(d.risk_days AS VARCHAR), d.end_reason,
	(SELECT CAST(count(*) AS VARCHAR) FROM linked_events e WHERE e.outcome = 'adjustment_visits' AND e.denture_no = d.denture_no),
	(SELECT CAST(count(*) AS VARCHAR) FROM linked_events e WHERE e.outcome = 'early_sore_spots' AND e.denture_no = d.denture_no),
	(SELECT CAST(coalesce(sum(n), 0) AS VARCHAR) FROM linked_events e WHERE e.outcome = 'chair_minutes' AND e.denture_no = d.denture_no),
	coalesce((SELECT CAST(day AS VARCHAR) FROM linked_firsts f WHERE f.outcome = 'first_adjustment' AND f.denture_no = d.denture_no), '-'),
	coalesce((SELECT CAST(day AS VARCHAR) FROM linked_firsts f WHERE f.outcome = 'any_ulcer' AND f.denture_no = d.denture_no), '-'),
	coalesce((SELECT CAST(day AS VARCHAR) FROM linked_firsts f WHERE f.outcome = 'remake' AND f.denture_no = d.denture_no), '-'),
	coalesce((SELECT CAST(day AS VARCHAR) FROM linked_firsts f WHERE f.outcome = 'reline' AND f.denture_no = d.denture_no), '-'),
	coalesce((SELECT CAST(day AS VARCHAR) FROM linked_firsts f WHERE f.outcome = 'display_complaint' AND f.denture_no = d.denture_no), '-'),
	coalesce((SELECT CAST(day AS VARCHAR) FROM linked_firsts f WHERE f.outcome = 'vertical_complaint' AND f.denture_no = d.denture_no), '-')
FROM linked_dentures d JOIN linked_patients USING (patient_no) ORDER BY d.case_id, d.arch DESC`

const linkHeader = "case arch patient risk end adjustments sores minutes first_adjustment ulcer remake reline display vertical"

// linkedLines links the store and reads linkView.
func linkedLines(t *testing.T, st *store.Store) []string {
	t.Helper()
	ctx := context.Background()
	require.NoError(t, EnsureLinked(ctx, st, DefaultSettings()))
	rows, err := st.DB().QueryContext(ctx, linkView)
	require.NoError(t, err)
	defer rows.Close()
	var out []string
	for rows.Next() {
		cells := make([]string, len(strings.Fields(linkHeader)))
		into := make([]any, len(cells))
		for i := range cells {
			into[i] = &cells[i]
		}
		require.NoError(t, rows.Scan(into...))
		out = append(out, strings.Join(cells, " "))
	}
	require.NoError(t, rows.Err())
	return out
}

// bundleOf writes the archive's CSV files into a folder, with only a header for
// every other table of the contract.
func bundleOf(t *testing.T, a *txtar.Archive) string {
	t.Helper()
	dir := t.TempDir()
	given := map[string]string{}
	for _, f := range a.Files {
		given[f.Name] = string(f.Data)
	}
	for _, tb := range bundle.Tables {
		text, ok := given[tb.Name+".csv"]
		if !ok {
			text = strings.Join(tb.Names(), ",") + "\n"
		}
		require.NoError(t, os.WriteFile(filepath.Join(dir, tb.Name+".csv"), []byte(text), 0o600))
	}
	return dir
}

// TestLinkRules runs every file of testdata/link: a small bundle and the linked
// dentures that it must give. The file's first lines say which rule it holds.
func TestLinkRules(t *testing.T) {
	files, err := filepath.Glob("../../testdata/link/*.txt")
	require.NoError(t, err)
	require.GreaterOrEqual(t, len(files), 10)
	for _, path := range files {
		t.Run(filepath.Base(path), func(t *testing.T) {
			a, err := txtar.ParseFile(path)
			require.NoError(t, err)
			require.NotEmpty(t, a.Comment, "say which rule it holds")
			var want []string
			for _, f := range a.Files {
				if f.Name == "want" {
					want = strings.Split(strings.TrimSpace(string(f.Data)), "\n")
				}
			}
			require.NotEmpty(t, want)
			require.Equal(t, linkHeader, want[0])
			st := loaded(t, 1, bundleOf(t, a))
			assert.Equal(t, want[1:], linkedLines(t, st))
			for _, h := range marksOf(a) {
				assert.Equal(t, h.want, habitMark(t, st, h), "%s of %s %s", h.habit, h.caseID, h.arch)
			}
		})
	}
}

// habitCell is one cell of an archive's "habits" table.
type habitCell struct{ habit, caseID, arch, want string }

// marksOf reads the table "habits" of an archive: a column for each denture, a
// row for each habit, in it yes, no or - for not assessable.
func marksOf(a *txtar.Archive) []habitCell {
	var out []habitCell
	for _, f := range a.Files {
		if f.Name != "habits" {
			continue
		}
		lines := strings.Split(strings.TrimSpace(string(f.Data)), "\n")
		head := strings.Fields(lines[0])
		for _, l := range lines[1:] {
			for i, cell := range strings.Fields(l)[1:] {
				caseID, arch, _ := strings.Cut(head[i+1], "/")
				out = append(out, habitCell{strings.Fields(l)[0], caseID, arch, cell})
			}
		}
	}
	return out
}

func habitMark(t *testing.T, st *store.Store, h habitCell) string {
	t.Helper()
	var mark string
	require.NoError(t, st.DB().QueryRow("SELECT CASE WHEN h_"+h.habit+" THEN 'yes' WHEN NOT h_"+h.habit+" THEN 'no' ELSE '-' END FROM linked_dentures WHERE case_id = ? AND arch = ?",
		h.caseID, h.arch).Scan(&mark))
	return mark
}

// TestEveryHabitHasALinkCase asks of testdata/link that each habit is seen, ruled
// out and, unless it always can be, not assessable.
func TestEveryHabitHasALinkCase(t *testing.T) {
	files, err := filepath.Glob("../../testdata/link/*.txt")
	require.NoError(t, err)
	marks := map[string]bool{}
	for _, path := range files {
		a, err := txtar.ParseFile(path)
		require.NoError(t, err)
		for _, h := range marksOf(a) {
			marks[h.habit+" "+h.want] = true
		}
	}
	for _, h := range habit.Catalogue {
		assert.True(t, marks[h.ID+" yes"], "%s is never seen", h.ID)
		assert.True(t, marks[h.ID+" no"], "%s is never ruled out", h.ID)
		assert.Equal(t, h.NotAssessable != "never", marks[h.ID+" -"], "%s and what cannot be assessed", h.ID)
	}
}

// TestThreeCasesByHand holds three cases of the clean bundle that were worked out
// from its CSV files with pencil and paper.
func TestThreeCasesByHand(t *testing.T) {
	st := cleanStore(t)
	got := map[string][]string{}
	for _, l := range linkedLines(t, st) {
		id, _, _ := strings.Cut(l, " ")
		got[id] = append(got[id], l)
	}
	for id, want := range handWorked {
		assert.Equal(t, want, got[id], id)
	}
	var freeway, clearance string
	var low, over sql.NullBool
	require.NoError(t, st.DB().QueryRow("SELECT CAST(freeway_mm AS VARCHAR), band_clearance, h_freeway_low, h_clearance_over_2 FROM linked_dentures WHERE case_id = 'K00000003' AND arch = 'upper'").
		Scan(&freeway, &clearance, &low, &over))
	assert.Equal(t, "3.00", freeway, "62.5 - 59.5")
	assert.Equal(t, over.Bool, clearance == "bulky")
	assert.False(t, low.Bool)
}

// TestCatalogueAndColumnsAgree holds the habit catalogue, the causal diagram and
// linked_dentures together.
func TestCatalogueAndColumnsAgree(t *testing.T) {
	st := cleanStore(t)
	require.NoError(t, EnsureLinked(context.Background(), st, DefaultSettings()))
	rows, err := st.DB().Query("SELECT column_name FROM duckdb_columns() WHERE table_name = 'linked_dentures' ORDER BY column_name")
	require.NoError(t, err)
	defer rows.Close()
	columns := map[string]bool{}
	for rows.Next() {
		var c string
		require.NoError(t, rows.Scan(&c))
		columns[c] = true
	}
	require.NoError(t, rows.Err())
	for _, h := range habit.Catalogue {
		assert.True(t, columns[h.Column()], "%s has no column", h.ID)
	}
	for _, n := range habit.Causes.Nodes {
		for _, c := range n.Columns {
			assert.True(t, columns[c], "%s of the causal diagram has no column %s", n.ID, c)
		}
	}
	for c := range columns {
		if id, ok := strings.CutPrefix(c, "h_"); ok {
			_, found := habit.Find(id)
			assert.True(t, found, "%s is not in the catalogue", c)
		}
	}
}

// TestDentureColumnsKeepTheirOrder holds the columns that people take along from
// linked_dentures to the order that their own programs may rely on.
func TestDentureColumnsKeepTheirOrder(t *testing.T) {
	st := cleanStore(t)
	require.NoError(t, EnsureLinked(context.Background(), st, DefaultSettings()))
	var got string
	require.NoError(t, st.DB().QueryRow("SELECT string_agg(column_name, ' ' ORDER BY column_index) FROM duckdb_columns() WHERE table_name = 'linked_dentures' AND NOT starts_with(column_name, 'h_')").Scan(&got))
	assert.Equal(t, "case_id arch site clinician lab records_on denture_no patient_no quarter year age_band sex ridge_class prior_denture course operator "+
		"delivered_day end_day risk_days end_reason freeway_mm vdr_mm vdo_mm lip_mm display_target_mm display_suggested_mm display_off_mm "+
		"clearance_min_mm clearance_max_mm palate_mm tries technique sized_by vertical_basis centric_method "+
		"band_freeway band_clearance band_seating band_discomfort band_touches band_display", got)
}

// TestQueriesAreAllUsed walks the folder of queries: each has its header, is named
// in this package or by a load, and nothing named is missing.
func TestQueriesAreAllUsed(t *testing.T) {
	entries, err := queries.FS.ReadDir(".")
	require.NoError(t, err)
	sources, err := filepath.Glob("*.go")
	require.NoError(t, err)
	sources = append(sources, "../intake/screen.go") // small_cells is put to the rows of a load
	var code strings.Builder
	for _, s := range sources {
		if !strings.HasSuffix(s, "_test.go") {
			b, err := os.ReadFile(s)
			require.NoError(t, err)
			code.Write(b)
		}
	}
	for _, e := range entries {
		name := strings.TrimSuffix(e.Name(), ".sql")
		text := queries.Text(name)
		for _, part := range []string{"-- Question:", "-- Unit:", "-- Parameters:", "-- Columns:", "-- Order:"} {
			assert.Contains(t, text, part, name)
		}
		assert.Contains(t, code.String(), `"`+name+`"`, "no code names the query %s", name)
	}
	assert.Panics(t, func() { queries.Text("no_such_query") })
	assert.Panics(t, func() { queries.NameOf("arch; DROP TABLE cases") })
	assert.Panics(t, func() { queries.Fill("link_view", 7) }, "a number is no list of columns")
}

// TestLinkFollowsLoadsAndSettings shows that the kept tables are never stale.
func TestLinkFollowsLoadsAndSettings(t *testing.T) {
	ctx := context.Background()
	st := loaded(t, 0, clean)
	count := func(s Settings) (n int) {
		require.NoError(t, EnsureLinked(ctx, st, s))
		require.NoError(t, st.DB().QueryRow("SELECT count(*) FROM linked_events WHERE outcome = 'adjustment_visits'").Scan(&n))
		return n
	}
	s := DefaultSettings()
	long := count(s)
	s.AdjustmentDays = 7
	short := count(s)
	assert.Less(t, short, long)
	assert.Equal(t, long, count(DefaultSettings()))
	s = DefaultSettings()
	s.MinDentures++ // of no concern to the linked tables
	cases, err := catchUp(ctx, st, s)
	require.NoError(t, err)
	assert.Zero(t, cases)
	s.SoreDays = 10
	cases, err = catchUp(ctx, st, s)
	require.NoError(t, err)
	assert.Equal(t, -1, cases, "all cases")
	s.AdjustmentDays = 0
	assert.ErrorContains(t, EnsureLinked(ctx, st, s), "adjustment_days")
}

// TestTablesOfAnOlderProgramGiveWay opens a store in which the linked tables stand under
// the names that are views now.
func TestTablesOfAnOlderProgramGiveWay(t *testing.T) {
	ctx, path := context.Background(), filepath.Join(t.TempDir(), "old.duckdb")
	st, err := store.Open(ctx, path, store.Options{Threads: 1})
	require.NoError(t, err)
	require.NoError(t, st.Tx(ctx, func(ctx context.Context, c *sql.Conn) error {
		for _, q := range []string{"DROP TABLE unlinked", "CREATE TABLE linked_dentures (case_id VARCHAR)", "CREATE TABLE linked_events (n INTEGER)", "CREATE TABLE linked_firsts (day INTEGER)", "CREATE TABLE " + olderTables[1] + " (n INTEGER)"} {
			if _, err := c.ExecContext(ctx, q); err != nil {
				return err
			}
		}
		if err := st.SetMeta(ctx, c, linkKey, "0123abcd"); err != nil {
			return err
		}
		return st.SetMeta(ctx, c, "schema_version", "3")
	}))
	require.NoError(t, st.Close())
	st, err = store.Open(ctx, path, store.Options{Threads: 1})
	require.NoError(t, err)
	defer func() { require.NoError(t, st.Close()) }()
	_, err = intake.Load(ctx, st, clean, intake.LoadOptions{Strict: true})
	require.NoError(t, err)
	cases, err := catchUp(ctx, st, DefaultSettings())
	require.NoError(t, err)
	assert.Equal(t, -1, cases)
	var n int
	require.NoError(t, st.DB().QueryRow("SELECT count(*) FROM linked_dentures").Scan(&n))
	assert.Positive(t, n)
	require.NoError(t, st.DB().QueryRow("SELECT count(*) FROM duckdb_tables() WHERE table_name = ?", olderTables[1]).Scan(&n))
	assert.Zero(t, n, "a table that nobody reads any more")
}
