package review

import (
	"context"
	"encoding/csv"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"afterfit/internal/intake"
	"afterfit/internal/store"
)

const samples = "../../testdata/"

// A shape is an export of another shape than the bundle's, with what it does not
// carry of the 300 cases.
type shape struct {
	export, mapping string
	note            string              // bundle.toml as the mapping says it
	without         map[string][]string // columns that it has no word for
	tables          []string            // whole tables that it does not have
	quarters        bool                // it knows the records to the quarter
	groups          int                 // so many visits of a denture at most, the first ones; 0 = all
	scopes          []string            // kinds of remake that it has; nil = all
}

var shapes = []shape{
	{export: "a_clinic_export", mapping: "a_clinic.toml",
		note: "name = \"a_clinic_export\"\nbasis = \"limited_data_set\"\ninvented = true\n",
		without: map[string][]string{
			"cases": {"lab", "course", "observed_end"}, "dentures": {"base_method", "scheme"},
			"records":    {"vertical_basis", "rest_method", "centric_method"},
			"trays":      {"sized_by", "palate_mm", "touches", "tries", "technique"},
			"visits":     {"reason", "complaints", "lesion_review"},
			"sore_spots": {"side", "grade"}, "remakes": {"cause"}},
		tables: []string{"readings"}, groups: 8, scopes: []string{"remake"}},
	{export: "b_quality_export.xlsx", mapping: "b_quality.toml",
		note: "name = \"b_quality_export.xlsx\"\nbasis = \"limited_data_set\"\ninvented = true\n",
		without: map[string][]string{
			"cases": {"lab", "course"}, "dentures": {"base_method", "scheme"},
			"records":    {"rest_method", "centric_method"},
			"trays":      {"sized_by", "palate_mm", "touches", "tries", "technique"},
			"visits":     {"reason", "complaints", "lesion_review"},
			"sore_spots": {"grade"}, "remakes": {"cause"}},
		tables: []string{"readings"}, quarters: true},
}

// TestAllShapesGiveTheSameRows loads each shape through its mapping, and beside it the
// clean bundle without what the shape does not carry. Every row of every table must then
// be the same.
func TestAllShapesGiveTheSameRows(t *testing.T) {
	for _, s := range shapes {
		t.Run(s.export, func(t *testing.T) {
			got := loadedShape(t, samples+"mappings/"+s.export, samples+"mappings/"+s.mapping)
			want := loadedShape(t, s.bundle(t), "")
			for _, q := range rowQueries {
				wantRows := rowsOf(t, want, q)
				assert.NotEmpty(t, wantRows, q)
				assert.Equal(t, wantRows, rowsOf(t, got, q), q)
			}
		})
	}
}

// rowQueries read every table of the contract. Visits have no number of their own
// in these shapes; a sore spot is told by its visit's case, day and chair time.
var rowQueries = []string{
	"SELECT * EXCLUDE load_id FROM main.cases ORDER BY ALL", "SELECT * EXCLUDE load_id FROM main.dentures ORDER BY ALL",
	"SELECT * EXCLUDE load_id FROM main.records ORDER BY ALL", "SELECT * EXCLUDE load_id FROM main.trays ORDER BY ALL",
	"SELECT * EXCLUDE (load_id, visit_id) FROM main.visits ORDER BY ALL", "SELECT * EXCLUDE load_id FROM main.remakes ORDER BY ALL",
	"SELECT v.case_id, v.day, v.minutes, s.* EXCLUDE (visit_id, load_id) FROM main.sore_spots s JOIN main.visits v USING (visit_id) ORDER BY ALL",
}

func loadedShape(t *testing.T, export, mapping string) *store.Store {
	t.Helper()
	ctx := context.Background()
	st, err := store.Open(ctx, "", store.Options{})
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, st.Close()) })
	_, err = intake.Load(ctx, st, export, intake.LoadOptions{Mapping: mapping, Strict: true})
	require.NoError(t, err)
	require.NoError(t, EnsureLinked(ctx, st, DefaultSettings()))
	return st
}

func rowsOf(t *testing.T, st *store.Store, q string) (out []string) {
	t.Helper()
	rows, err := st.DB().Query(q)
	require.NoError(t, err)
	defer rows.Close()
	cols, err := rows.Columns()
	require.NoError(t, err)
	for rows.Next() {
		cells, dest := make([]any, len(cols)), make([]any, len(cols))
		for i := range cells {
			dest[i] = &cells[i]
		}
		require.NoError(t, rows.Scan(dest...))
		out = append(out, fmt.Sprint(cells...))
	}
	require.NoError(t, rows.Err())
	return out
}

// bundle writes the clean bundle without what the shape does not carry.
func (s shape) bundle(t *testing.T) string {
	t.Helper()
	dir := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(dir, "bundle.toml"), []byte(s.note), 0o600))
	late := map[string]bool{}
	for _, table := range []string{"cases", "dentures", "records", "readings", "trays", "visits", "sore_spots", "remakes"} {
		if slices.Contains(s.tables, table) {
			continue
		}
		rows := readCSV(t, samples+"bundles/clean/"+table+".csv")
		at := func(name string) int { return slices.Index(rows[0], name) }
		if table == "visits" && s.groups > 0 {
			late = lateVisits(rows, s.groups)
		}
		rows = slices.DeleteFunc(rows, func(r []string) bool {
			return (table == "visits" || table == "sore_spots") && late[r[0]] ||
				table == "remakes" && s.scopes != nil && r[0] != "case_id" && !slices.Contains(s.scopes, r[at("scope")])
		})
		if i := at("records_on"); i >= 0 && s.quarters {
			for _, r := range rows[1:] {
				r[i] = quarterOfMonth(r[i])
			}
		}
		for _, name := range s.without[table] {
			i := at(name)
			require.GreaterOrEqual(t, i, 0, name)
			for j := range rows {
				rows[j] = slices.Delete(rows[j], i, i+1)
			}
		}
		writeCSV(t, filepath.Join(dir, table+".csv"), rows)
	}
	return dir
}

// lateVisits finds the visits of each denture behind its first n, by day.
func lateVisits(rows [][]string, n int) map[string]bool {
	byDenture := map[string][][]string{}
	for _, r := range rows[1:] {
		key := r[1] + r[3]
		byDenture[key] = append(byDenture[key], r)
	}
	late := map[string]bool{}
	for _, visits := range byDenture {
		slices.SortStableFunc(visits, func(a, b []string) int { return strings.Compare(fmt.Sprintf("%6s", a[2]), fmt.Sprintf("%6s", b[2])) })
		for _, v := range visits[min(n, len(visits)):] {
			late[v[0]] = true
		}
	}
	return late
}

func quarterOfMonth(month string) string {
	var year, m int
	if _, err := fmt.Sscanf(month, "%d-%d", &year, &m); err != nil {
		return month
	}
	return fmt.Sprintf("%d-Q%d", year, (m+2)/3)
}

func readCSV(t *testing.T, path string) [][]string {
	t.Helper()
	f, err := os.Open(path)
	require.NoError(t, err)
	defer func() { assert.NoError(t, f.Close()) }()
	rows, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	return rows
}

func writeCSV(t *testing.T, path string, rows [][]string) {
	t.Helper()
	f, err := os.Create(path)
	require.NoError(t, err)
	require.NoError(t, csv.NewWriter(f).WriteAll(rows))
	require.NoError(t, f.Close())
}
