package intake

import (
	"context"
	"encoding/csv"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"github.com/xuri/excelize/v2"

	"afterfit/internal/bundle"
	"afterfit/internal/store"
)

// faulty is small with every kind of row that is set aside: a wrong cell, a case
// whose rows all follow it, a key that points nowhere, two rows of one key, and a
// record that cannot be cut into cells.
func faulty(t testing.TB) map[string]string {
	t.Helper()
	files := maps.Clone(small)
	for _, c := range [][3]string{
		{"cases.csv", "2024-Q2", "2024-Q5"}, {"records.csv", "65.5", "\"65,5\""}, {"visits.csv", "V1,K1", "V1,K9"},
		{"remakes.csv", "K1,lower,200", "K1,lower,31.02.2024"}, {"trays.csv", "K1,lower,1,2", "K1,upper,1,2"}, {"readings.csv", "K1,vdr,2,65,", "K1,vdr,2,65"},
	} {
		require.Contains(t, files[c[0]], c[1])
		files[c[0]] = strings.Replace(files[c[0]], c[1], c[2], 1)
	}
	return files
}

// mend corrects one cell: the cell of column in the row whose cells hold find.
type mend struct{ table, find, column, value string }

var mends = []mend{
	{"cases", "2024-Q5", "records_on", "2024-Q2"}, {"records", "65,5", "vdr_mm", "65.5"}, {"visits", "K9", "case_id", "K1"},
	{"remakes", "31.02.2024", "day", "200"}, {"trays", "ridge|border", "arch", "lower"},
	{"readings", "K1,vdr,2,65", "case_id", "K1"}, {"readings", "K1,vdr,2,65", "measure", "vdr"}, {"readings", "K1,vdr,2,65", "take", "2"}, {"readings", "K1,vdr,2,65", "value_mm", "65"},
}

// mendFolder corrects a folder of CSV files as a careful person would.
func mendFolder(t testing.TB, dir string) {
	t.Helper()
	done := 0
	for _, tb := range bundle.Tables {
		path := filepath.Join(dir, tb.Name+".csv")
		text, err := os.ReadFile(path)
		if os.IsNotExist(err) {
			continue
		}
		require.NoError(t, err)
		rows, err := csv.NewReader(strings.NewReader(string(text))).ReadAll()
		require.NoError(t, err)
		for _, m := range mends {
			for _, r := range rows[1:] {
				if m.table == tb.Name && slices.Contains(r, m.find) {
					r[slices.Index(rows[0], m.column)] = m.value
					done++
				}
			}
		}
		var b strings.Builder
		w := csv.NewWriter(&b)
		require.NoError(t, w.WriteAll(rows))
		require.NoError(t, os.WriteFile(path, []byte(b.String()), 0o600))
	}
	require.Equal(t, len(mends), done, "every mend found its row")
}

// mendBook does the same in a workbook.
func mendBook(t testing.TB, path string) {
	t.Helper()
	f, err := excelize.OpenFile(path)
	require.NoError(t, err)
	done := 0
	for _, m := range mends {
		rows, err := f.GetRows(m.table)
		require.NoError(t, err)
		for i, r := range rows {
			if i > 1 && slices.Contains(r, m.find) {
				at, err := excelize.CoordinatesToCellName(slices.Index(rows[1], m.column)+1, i+1)
				require.NoError(t, err)
				require.NoError(t, f.SetCellValue(m.table, at, m.value))
				done++
			}
		}
	}
	require.Equal(t, len(mends), done, "every mend found its row")
	require.NoError(t, f.Save())
	require.NoError(t, f.Close())
}

func fingerprint(t testing.TB, st *store.Store) string {
	t.Helper()
	report, err := st.Verify(context.Background())
	require.NoError(t, err)
	require.Empty(t, report.Problems)
	return report.Fingerprint
}

func TestCorrectedRowsMakeTheStoreWhole(t *testing.T) {
	ctx := context.Background()
	right := newStore(t)
	load(t, right, small)
	for name, mend := range map[string]func(testing.TB, string){"aside": mendFolder, "aside.xlsx": mendBook} {
		t.Run(name, func(t *testing.T) {
			st := newStore(t)
			place := filepath.Join(t.TempDir(), name)
			first, err := Load(ctx, st, write(t, faulty(t)), LoadOptions{SetAsideLimit: 1, SetAside: place})
			require.NoError(t, err)
			require.Equal(t, place, first.SetAsideIn)
			assert.NotEqual(t, fingerprint(t, right), fingerprint(t, st))
			_, err = Load(ctx, st, place, LoadOptions{})
			require.ErrorIs(t, err, ErrBadData, "nothing was corrected, so nothing is loaded")
			mend(t, place)
			res, err := Load(ctx, st, place, LoadOptions{Strict: true})
			require.NoError(t, err)
			for _, b := range res.Balance {
				assert.Equal(t, b.Read, b.Kept, b.Table)
				assert.Equal(t, balance(t, first, b.Table).SetAside, b.Read, "%s: all that was set aside came back", b.Table)
				assert.Zero(t, b.Superseded)
			}
			assert.Equal(t, fingerprint(t, right), fingerprint(t, st))
			assert.Zero(t, res.StillAside)
			assert.Equal(t, int64(len(column(t, st, "SELECT '' FROM set_aside"))), res.Corrected, "every row set aside is marked as corrected")
			again, err := Load(ctx, st, place, LoadOptions{Strict: true})
			require.NoError(t, err)
			assert.True(t, again.Unchanged)
			assert.Equal(t, fingerprint(t, right), fingerprint(t, st))
		})
	}
}

func TestRowsSetAsideAreForTheirOwnerAlone(t *testing.T) {
	ctx := context.Background()
	for _, name := range []string{"aside", "aside.xlsx"} {
		place := filepath.Join(t.TempDir(), name)
		res, err := Load(ctx, newStore(t), write(t, faulty(t)), LoadOptions{SetAsideLimit: 1, SetAside: place})
		require.NoError(t, err)
		require.NoError(t, filepath.Walk(place, func(path string, info os.FileInfo, err error) error {
			require.NoError(t, err)
			assert.Zero(t, info.Mode().Perm()&0o077, path)
			return nil
		}))
		if name == "aside" {
			text, err := os.ReadFile(filepath.Join(place, "remakes.csv"))
			require.NoError(t, err)
			assert.Equal(t, "case_id,arch,day,scope,cause,set_aside_file,set_aside_line,set_aside_column,set_aside_reason,set_aside_text\n"+
				"K1,lower,31.02.2024,reline,fit,remakes.csv,2,day,a calendar date: write whole days counted from the records (day 0),\n", string(text))
		}
		_, err = Load(ctx, newStore(t), write(t, faulty(t)), LoadOptions{SetAsideLimit: 1, SetAside: place})
		require.ErrorContains(t, err, "found something where the rows set aside would go")
		require.NotEmpty(t, res.SetAside)
	}
	dir := t.TempDir()
	place := filepath.Join(dir, "aside")
	_, err := Load(ctx, newStore(t), write(t, faulty(t)), LoadOptions{SetAside: place})
	require.ErrorIs(t, err, ErrBadData)
	require.ErrorContains(t, err, "All of them are in "+place)
	st := newStore(t)
	_, err = Load(ctx, st, write(t, faulty(t)), LoadOptions{SetAsideLimit: 1})
	require.NoError(t, err)
	mendFolder(t, place)
	res, err := Load(ctx, st, place, LoadOptions{Strict: true})
	require.NoError(t, err, "what a refused load wrote corrects the load that followed it")
	assert.Zero(t, res.StillAside)
	require.NoError(t, os.RemoveAll(place))
	_, err = Load(ctx, newStore(t), poisoned(t, "cases", "lab", "Zwiebelkamp, Hans", ""), LoadOptions{SetAside: place})
	require.ErrorIs(t, err, ErrBadData)
	res, err = Load(ctx, newStore(t), write(t, small), LoadOptions{SetAside: filepath.Join(dir, "aside")})
	require.NoError(t, err)
	assert.Empty(t, res.SetAsideIn)
	left, err := os.ReadDir(dir)
	require.NoError(t, err)
	assert.Empty(t, left, "a load that names a person, and one that sets nothing aside, leave nothing")
}

func TestAnAdditionReplacesNothing(t *testing.T) {
	ctx := context.Background()
	st := newStore(t)
	load(t, st, small)
	add := func(files map[string]string) (*LoadResult, error) {
		files[noteFile] = "adds = true\n"
		return Load(ctx, st, write(t, files), LoadOptions{SetAsideLimit: 1})
	}
	res, err := add(map[string]string{"visits.csv": "visit_id,case_id,day,arch,adjusted,complaints\nV3,K2,90,,no,\nV2,K1,40,,no,\nV1,K1,26,both,yes,\nV4,K7,1,,no,\n"})
	require.NoError(t, err)
	assert.Equal(t, Balance{Table: "visits", Read: 4, Kept: 1, SetAside: 2, Repeats: 1}, balance(t, res, "visits"))
	assert.Contains(t, res.SetAside[0].String(), `column visit_id: found "V1": the store has another row of this key`)
	assert.Contains(t, res.SetAside[1].String(), `column case_id: found "K7": no such row in cases`)
	res, err = add(map[string]string{"visits.csv": "visit_id,case_id,day,adjusted\nV9,K2,900,no\n"})
	require.NoError(t, err)
	assert.Equal(t, int64(1), res.Flags, "a visit after the end of observation is flagged, though its case is not in the load")
	var cases int64
	require.NoError(t, st.DB().QueryRow("SELECT count(*) FROM main.cases").Scan(&cases))
	assert.Equal(t, int64(2), cases)
	fingerprint(t, st)
}
