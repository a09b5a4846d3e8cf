package intake

import (
	"bytes"
	"context"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"afterfit/internal/privacy"
	"afterfit/internal/store"
)

// poisoned copies the clean bundle and puts a value into one cell of its first row,
// under the basis given; note is added to bundle.toml.
func poisoned(t *testing.T, table, column, value, note string) string {
	t.Helper()
	dir := t.TempDir()
	require.NoError(t, os.CopyFS(dir, os.DirFS(cleanBundle)))
	path := filepath.Join(dir, table+".csv")
	text, err := os.ReadFile(path)
	require.NoError(t, err)
	lines := strings.Split(string(text), "\n")
	header := strings.Split(strings.TrimSpace(lines[0]), ",")
	cells := strings.Split(strings.TrimSpace(lines[1]), ",")
	for i, name := range header {
		if name == column {
			cells[i] = `"` + value + `"`
		}
	}
	lines[1] = strings.Join(cells, ",")
	require.NoError(t, os.WriteFile(path, []byte(strings.Join(lines, "\n")), 0o600))
	require.NoError(t, os.WriteFile(filepath.Join(dir, noteFile), []byte("basis = \"consented_local\"\n"+note), 0o600))
	return dir
}

// TestNothingOfAPersonIsLeft loads bundles with a person's mark in one cell, of a
// text column, a coded one and a number, and looks for the mark in the message, in
// the store's files and in what the load leaves in its folder.
func TestNothingOfAPersonIsLeft(t *testing.T) {
	for _, c := range []struct{ table, column, value, mark string }{
		{"cases", "lab", "Zwiebelkamp, Hans", "Zwiebelkamp"},
		{"cases", "sex", "zwiebelkamp@example.org", "zwiebelkamp"},
		{"cases", "patient_key", "+49 171 5550193", "5550193"},
		{"records", "vdo_mm", "078-05-1120", "078-05"},
		{"visits", "case_id", "Hans Zwiebelkamp, Birkenweg 17", "Zwiebelkamp"},
		{"sore_spots", "visit_id", "GB29 NWBK 6016 1331 9268 19", "6016"},
	} {
		t.Run(c.table+"."+c.column, func(t *testing.T) {
			ctx, home := context.Background(), t.TempDir()
			st, err := store.Open(ctx, filepath.Join(home, "s.duckdb"), store.Options{Threads: 1})
			require.NoError(t, err)
			before := state(t, st)
			_, err = Load(ctx, st, poisoned(t, c.table, c.column, c.value, ""), LoadOptions{TempDir: home})
			require.ErrorIs(t, err, ErrBadData)
			assert.Contains(t, err.Error(), c.table+".csv: column "+c.column+": found ")
			assert.Contains(t, err.Error(), privacy.Mask(c.value)[:8])
			assert.NotContains(t, err.Error(), c.mark)
			assert.Equal(t, before, state(t, st))
			searchFiles(t, home, c.mark)
			require.NoError(t, st.Close())
			searchFiles(t, home, c.mark)
		})
	}
}

// searchFiles fails for every file below dir that holds the mark. It must have
// seen the store itself.
func searchFiles(t *testing.T, dir, mark string) {
	t.Helper()
	seen := 0
	require.NoError(t, filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		content, err := os.ReadFile(path)
		require.NoError(t, err)
		seen++
		assert.False(t, bytes.Contains(content, []byte(mark)), "%s holds %q", path, mark)
		return nil
	}))
	assert.Positive(t, seen)
}

// TestTheSearchWouldFindTheMark clears the same finding: the value is then stored,
// and the ledger says who waved it through and why.
func TestTheSearchWouldFindTheMark(t *testing.T) {
	ctx, home := context.Background(), t.TempDir()
	path := filepath.Join(home, "s.duckdb")
	st, err := store.Open(ctx, path, store.Options{Threads: 1})
	require.NoError(t, err)
	note := "[[cleared]]\ntable = \"cases\"\ncolumn = \"lab\"\nkind = \"name\"\nreason = \"the laboratory's own name\"\n"
	dir := poisoned(t, "cases", "lab", "Zwiebelkamp, Hans", note)
	res, err := Load(ctx, st, dir, LoadOptions{TempDir: home})
	require.NoError(t, err)
	want := []privacy.Clearance{{Table: "cases", Column: "lab", Kind: privacy.Name, Reason: "the laboratory's own name"}}
	assert.Equal(t, want, res.Cleared)
	var row string
	require.NoError(t, st.DB().QueryRowContext(ctx, "SELECT concat_ws('|', load_id, table_name, column_name, kind, reason) FROM main.cleared").Scan(&row))
	assert.Equal(t, "1|cases|lab|name|the laboratory's own name", row)
	again, err := Load(ctx, st, dir, LoadOptions{})
	require.NoError(t, err)
	assert.True(t, again.Unchanged)
	require.NoError(t, st.Close())
	content, err := os.ReadFile(path)
	require.NoError(t, err)
	assert.Contains(t, string(content), "Zwiebelkamp")
}

func TestClearingNeedsItsParts(t *testing.T) {
	for text, want := range map[string]string{
		"[[cleared]]\ntable=\"cases\"\ncolumn=\"lab\"\nkind=\"name\"\nreason=\" \"\n": "a clearance of cases.lab without a reason",
		"[[cleared]]\ntable=\"cases\"\ncolumn=\"lab\"\nkind=\"nme\"\nreason=\"x\"\n":  "a clearance for the unknown kind",
		"[[cleared]]\ntable=\"cases\"\nkind=\"name\"\nreason=\"x\"\n":                 "a clearance without table or column",
		"[[cleared]]\ntable=\"cases\"\ncolum=\"lab\"\n":                               "the unknown key",
	} {
		var n Note
		err := parseNote(noteFile, []byte(text), &n)
		require.ErrorIs(t, err, ErrBadData, text)
		assert.ErrorContains(t, err, want)
	}
}

// TestSafeHarborTakesAYearOnly: the clean bundle has months in records_on.
func TestSafeHarborTakesAYearOnly(t *testing.T) {
	ctx := context.Background()
	dir := poisoned(t, "cases", "lab", "L2", "")
	require.NoError(t, os.WriteFile(filepath.Join(dir, noteFile), []byte("basis = \"safe_harbor\"\n"), 0o600))
	_, err := Load(ctx, newStore(t), dir, LoadOptions{})
	require.ErrorIs(t, err, ErrBadData)
	assert.ErrorContains(t, err, "column records_on: found dates finer than a year")
	assert.ErrorContains(t, err, "write the year only")
	res, err := Load(ctx, newStore(t), cleanBundle, LoadOptions{}) // states no basis
	require.NoError(t, err)
	require.Len(t, res.Privacy, 1)
	assert.False(t, res.Privacy[0].Stops)
	assert.Equal(t, "state the basis; under safe_harbor write the year only", res.Privacy[0].Remedy)
}

func TestLookFindsPeopleInColumnsOutsideTheContract(t *testing.T) {
	dir := t.TempDir()
	require.NoError(t, os.CopyFS(dir, os.DirFS(cleanBundle)))
	path := filepath.Join(dir, "remakes.csv")
	text, err := os.ReadFile(path)
	require.NoError(t, err)
	lines := strings.Split(strings.TrimSpace(string(text)), "\n")
	for i := range lines {
		add := ",Zwiebelkamp\\, Hans"
		if i > 0 {
			add = fmt.Sprintf(",hans%d@example.org", i)
		}
		lines[i] = strings.TrimSpace(lines[i]) + strings.ReplaceAll(add, `\,`, "")
	}
	require.NoError(t, os.WriteFile(path, []byte(strings.Join(lines, "\n")+"\n"), 0o600))
	rep, err := Look(context.Background(), dir)
	require.NoError(t, err)
	var kinds []privacy.Kind
	for _, f := range rep.Privacy {
		kinds = append(kinds, f.Kind)
		if f.Kind == privacy.Email {
			assert.EqualValues(t, len(lines)-1, f.Rows)
			assert.Equal(t, "aaaa9@aaaaaaa.aaa", f.Example)
		}
	}
	assert.Equal(t, []privacy.Kind{privacy.Date, privacy.Email}, kinds)
	require.NotNil(t, rep.Risk)
	assert.EqualValues(t, 300, rep.Risk.Cases)
}

// TestSmallCellsAgainstAPlainCount counts the clean bundle's lone cases another way.
func TestSmallCellsAgainstAPlainCount(t *testing.T) {
	res, err := Load(context.Background(), newStore(t), cleanBundle, LoadOptions{})
	require.NoError(t, err)
	text, err := os.ReadFile(filepath.Join(cleanBundle, "cases.csv"))
	require.NoError(t, err)
	lines := strings.Split(strings.TrimSpace(string(text)), "\n")
	at := map[string]int{}
	for i, name := range strings.Split(strings.TrimSpace(lines[0]), ",") {
		at[name] = i
	}
	groups := map[string]int{}
	for _, line := range lines[1:] {
		c := strings.Split(line, ",")
		var month int
		_, err := fmt.Sscanf(c[at["records_on"]][5:7], "%d", &month)
		require.NoError(t, err)
		groups[fmt.Sprint(c[at["age_band"]], "|", c[at["sex"]], "|", c[at["site"]], "|", c[at["ridge_class"]], "|", c[at["records_on"]][:4], (month-1)/3)]++
	}
	alone := int64(0)
	for _, n := range groups {
		if n == 1 {
			alone++
		}
	}
	assert.Equal(t, alone, res.Risk.Unique)
	assert.Positive(t, alone)
}
