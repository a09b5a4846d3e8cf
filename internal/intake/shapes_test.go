package intake

import (
	"archive/zip"
	"bytes"
	"compress/gzip"
	"context"
	"encoding/csv"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"github.com/xuri/excelize/v2"

	"afterfit/internal/store"
)

// shapesOf writes a bundle in every shape that loads without a mapping.
func shapesOf(t testing.TB, files map[string]string) map[string]string {
	t.Helper()
	dir := t.TempDir()
	var zipped bytes.Buffer
	z := zip.NewWriter(&zipped)
	gz := filepath.Join(dir, "gz")
	require.NoError(t, os.Mkdir(gz, 0o700))
	for name, text := range files {
		w, err := z.Create("export/" + name)
		require.NoError(t, err)
		_, err = w.Write([]byte(text))
		require.NoError(t, err)
		if name == noteFile {
			require.NoError(t, os.WriteFile(filepath.Join(gz, name), []byte(text), 0o600))
			continue
		}
		var b bytes.Buffer
		g := gzip.NewWriter(&b)
		_, err = g.Write([]byte(text))
		require.NoError(t, err)
		require.NoError(t, g.Close())
		require.NoError(t, os.WriteFile(filepath.Join(gz, name+".gz"), b.Bytes(), 0o600))
	}
	require.NoError(t, z.Close())
	archive := filepath.Join(dir, "bundle.zip")
	require.NoError(t, os.WriteFile(archive, zipped.Bytes(), 0o600))
	return map[string]string{"folder": write(t, files), "zip": archive, "gzip": gz, "workbook": bookOf(t, files), "parquet": parquetOf(t, files)}
}

// bookOf writes a sheet for each table: headings, a blank row, the names, the rows.
func bookOf(t testing.TB, files map[string]string) string {
	t.Helper()
	f := excelize.NewFile() // its own empty Sheet1 stays
	row := func(sheet, at string, cells []string) { require.NoError(t, f.SetSheetRow(sheet, at, &cells)) }
	for name, text := range files {
		sheet := strings.TrimSuffix(strings.TrimSuffix(name, ".csv"), ".toml")
		_, err := f.NewSheet(sheet)
		require.NoError(t, err)
		if name == noteFile {
			for i, line := range strings.Split(strings.TrimSpace(text), "\n") {
				key, value, _ := strings.Cut(line, " = ")
				row(sheet, "A"+itoa(i+2), []string{key, strings.Trim(value, `"`)})
			}
			continue
		}
		rows, err := csv.NewReader(strings.NewReader(text)).ReadAll()
		require.NoError(t, err)
		row(sheet, "A1", []string{"A heading for people"})
		for i, r := range rows {
			row(sheet, "A"+itoa(i+3), r)
		}
	}
	path := filepath.Join(t.TempDir(), "bundle.xlsx")
	require.NoError(t, f.SaveAs(path))
	require.NoError(t, f.Close())
	return path
}

func itoa(i int) string {
	name, _ := excelize.CoordinatesToCellName(1, i)
	return name[1:]
}

func parquetOf(t testing.TB, files map[string]string) string {
	t.Helper()
	csvs, dir := write(t, files), t.TempDir()
	st := newStore(t)
	for name, text := range files {
		if name == noteFile {
			require.NoError(t, os.WriteFile(filepath.Join(dir, name), []byte(text), 0o600))
			continue
		}
		_, err := st.DB().Exec("COPY (SELECT * FROM read_csv(" + store.Quote(filepath.Join(csvs, name)) + ", header=true, auto_type_candidates=['BIGINT', 'DOUBLE', 'VARCHAR'])) TO " +
			store.Quote(filepath.Join(dir, strings.TrimSuffix(name, ".csv")+".parquet")) + " (FORMAT parquet)")
		require.NoError(t, err)
	}
	return dir
}

func TestEveryShapeGivesTheSameStore(t *testing.T) {
	ctx := context.Background()
	files := with(t, noteFile, "", "name = \"Spring\"\nbasis = \"limited_data_set\"\ncomplete = true\n")
	var want string
	var balance []Balance
	for _, name := range []string{"folder", "zip", "gzip", "workbook", "parquet"} {
		st := newStore(t)
		res, err := Load(ctx, st, shapesOf(t, files)[name], LoadOptions{Strict: true})
		require.NoError(t, err, name)
		assert.Equal(t, Note{Name: "Spring", Basis: "limited_data_set", Complete: true}, res.Note, name)
		got, err := st.Fingerprint(ctx)
		require.NoError(t, err)
		if want == "" {
			want, balance = got, res.Balance
		}
		assert.Equal(t, want, got, name)
		assert.Equal(t, balance, res.Balance, name)
		report, err := st.Verify(ctx)
		require.NoError(t, err)
		assert.Empty(t, report.Problems)
	}
}

// TestShapesNameTheRow holds that a fault is found where the user sees it.
func TestShapesNameTheRow(t *testing.T) {
	files := with(t, "records.csv", "62.5", "high")
	for name, want := range map[string]string{
		"folder": "records.csv:2: column vdo_mm", "zip": "export/records.csv:2: column vdo_mm", "gzip": "records.csv.gz:2: column vdo_mm",
		"workbook": "bundle.xlsx[records]:4: column vdo_mm", "parquet": "records.parquet:1: column vdo_mm",
	} {
		_, err := Load(context.Background(), newStore(t), shapesOf(t, files)[name], LoadOptions{Strict: true})
		require.ErrorIs(t, err, ErrBadData, name)
		assert.Contains(t, err.Error(), want+`: found "high"`, name)
	}
}

func TestShapesAreRefusedByName(t *testing.T) {
	wide := with(t, "records.csv", "66,63.25,,1\n", "66,63.25,,1\n")
	book := bookOf(t, wide)
	f, err := excelize.OpenFile(book)
	require.NoError(t, err)
	require.NoError(t, f.SetCellValue("records", "H4", "a remark without a heading"))
	require.NoError(t, f.Save())
	require.NoError(t, f.Close())
	strange := with(t, "weather.csv", "", "a,b\n1,2\n")
	twice := shapesOf(t, small)["gzip"]
	require.NoError(t, os.WriteFile(filepath.Join(twice, "visits.csv"), []byte(small["visits.csv"]), 0o600))
	single := filepath.Join(shapesOf(t, small)["gzip"], "cases.csv.gz")
	badNote := with(t, noteFile, "", "name = \"x\"\ncompleat = true\n")
	for name, c := range map[string]struct{ path, want string }{
		"a cell without a heading": {book, "bundle.xlsx[records]:4: found something in column 8, where the header has 5"},
		"a strange sheet":          {bookOf(t, strange), "bundle.xlsx[weather]: found what is no table of the contract: take it out"},
		"a table twice":            {twice, "found the table visits a second time"},
		"a single file":            {single, "found a single file"},
		"a note on a sheet":        {bookOf(t, badNote), `bundle.xlsx[bundle]:3: found the unknown key "compleat"`},
	} {
		_, err := Load(context.Background(), newStore(t), c.path, LoadOptions{Strict: true})
		require.ErrorIs(t, err, ErrBadData, name)
		assert.Contains(t, err.Error(), c.want, name)
	}
}

// TestARowAboveTheColumnNamesIsNotLost: a heading for people is passed over, a row of
// data that a sort brought there is set aside with its line.
func TestARowAboveTheColumnNamesIsNotLost(t *testing.T) {
	path := filled(t, small, func(f *excelize.File) {
		rows, err := f.GetRows("cases")
		require.NoError(t, err)
		at := slices.IndexFunc(rows, func(r []string) bool { return slices.Contains(r, "K1") })
		require.Positive(t, at)
		head := slices.IndexFunc(rows, func(r []string) bool { return slices.Contains(r, "case_id") })
		require.NoError(t, f.InsertRows("cases", head+1, 1))
		require.NoError(t, f.SetSheetRow("cases", "A"+itoa(head+1), &rows[at]))
	})
	res, err := Load(context.Background(), newStore(t), path, LoadOptions{SetAsideLimit: 1})
	require.NoError(t, err)
	require.Len(t, res.SetAside, 1)
	assert.Contains(t, res.SetAside[0].Found, "a row of data above the column names")
	for _, b := range res.Balance {
		assert.True(t, b.Holds(), b.Table)
	}
}
