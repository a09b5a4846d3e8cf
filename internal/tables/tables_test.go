package tables

import (
	"bytes"
	"database/sql"
	"encoding/csv"
	"encoding/json"
	"os"
	"path/filepath"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"github.com/xuri/excelize/v2"
)

// hostile holds texts that a spreadsheet would run, beside numbers that it must not
// take for texts.
func hostile() *Table {
	return &Table{
		Columns: []Column{{"text", Text}, {"whole", Whole}, {"number", Number}, {"yes", YesNo}},
		Rows: [][]string{
			{"=1+1", "-3", "-0.25", "true"}, {"+1", "", "", ""}, {"-1+cmd", "7", "1.5e-07", "false"}, {"@x", "0", "0", ""}, {"\tx", "1", "1", ""}, {"\rx", "1", "1", ""},
			{"＝1", "1", "1", ""}, {"007", "1", "1", ""}, {"a,\"b\"\nc", "1", "1", ""}, {"", "1", "1", ""}, {"ridge – crest", "9007199254740993", "2", ""},
		},
	}
}

func written(t *testing.T, format string) []byte {
	t.Helper()
	var b bytes.Buffer
	f, err := New(&b, format, About{"hostile", "it's a test"})
	require.NoError(t, err)
	require.NoError(t, hostile().Fill(f))
	require.NoError(t, f.Close())
	return b.Bytes()
}

func TestDefuseStopsFormulas(t *testing.T) {
	for in, want := range map[string]string{
		"": "", "12": "12", "-3.5": "-3.5", "-": "'-", "-1.2.3": "'-1.2.3", "=1+1": "'=1+1", "+1": "'+1", "-1+cmd": "'-1+cmd", "@x": "'@x", "\tx": "'\tx", "\rx": "'\rx", "\nx": "'\nx",
		"－1": "'－1", "a=b": "a=b",
	} {
		assert.Equal(t, want, Defuse(in), "%q", in)
	}
}

func TestCSVKeepsNumbersAndDefusesTexts(t *testing.T) {
	rows, err := csv.NewReader(bytes.NewReader(written(t, "csv"))).ReadAll()
	require.NoError(t, err)
	assert.Equal(t, Names(hostile().Columns), rows[0])
	assert.Equal(t, []string{"'=1+1", "-3", "-0.25", "true"}, rows[1])
	for _, r := range rows[1:] {
		if r[0] != "" {
			assert.NotContains(t, formulaStarts, string([]rune(r[0])[:1]), "%q", r[0])
		}
	}
	assert.Equal(t, "a,\"b\"\nc", rows[9][0])
}

func TestJSONKeepsKindsAndOrder(t *testing.T) {
	raw := written(t, "json")
	assert.Contains(t, string(raw), `{"text": "=1+1", "whole": -3, "number": -0.25, "yes": true}`)
	assert.Contains(t, string(raw), `{"text": "+1", "whole": null, "number": null, "yes": null}`)
	assert.Contains(t, string(raw), `9007199254740993`)
	var rows []map[string]any
	require.NoError(t, json.Unmarshal(raw, &rows))
	assert.Len(t, rows, len(hostile().Rows))
}

func TestWorkbookHoldsTextsAsTexts(t *testing.T) {
	f, err := excelize.OpenReader(bytes.NewReader(written(t, "xlsx")))
	require.NoError(t, err)
	defer func() { require.NoError(t, f.Close()) }()
	for i, r := range hostile().Rows {
		at := "A" + strconv.Itoa(i+2)
		formula, err := f.GetCellFormula("hostile", at)
		require.NoError(t, err)
		assert.Empty(t, formula)
		if r[0] == "" {
			continue
		}
		kind, err := f.GetCellType("hostile", at)
		require.NoError(t, err)
		assert.Contains(t, []excelize.CellType{excelize.CellTypeInlineString, excelize.CellTypeSharedString}, kind, "%q", r[0])
		v, err := f.GetCellValue("hostile", at)
		require.NoError(t, err)
		if r[0] != "\rx" { // XML reads a carriage return as a line feed
			assert.Equal(t, r[0], v)
		}
	}
	for at, want := range map[string]string{"B2": "-3", "C2": "-0.25", "D2": "TRUE"} {
		kind, err := f.GetCellType("hostile", at)
		require.NoError(t, err)
		assert.NotContains(t, []excelize.CellType{excelize.CellTypeInlineString, excelize.CellTypeSharedString}, kind, at)
		v, err := f.GetCellValue("hostile", at)
		require.NoError(t, err)
		assert.Equal(t, want, v)
	}
	v, err := f.GetCellValue("contents", "B2")
	require.NoError(t, err)
	assert.Equal(t, "it's a test", v)
}

func TestParquetKeepsKinds(t *testing.T) {
	path := filepath.Join(t.TempDir(), "x.parquet")
	require.NoError(t, os.WriteFile(path, written(t, "parquet"), 0o600))
	db, err := sql.Open("duckdb", "")
	require.NoError(t, err)
	defer func() { require.NoError(t, db.Close()) }()
	var types string
	require.NoError(t, db.QueryRow("SELECT string_agg(column_name || ' ' || column_type, ', ') FROM (DESCRIBE SELECT * FROM '"+path+"')").Scan(&types))
	assert.Equal(t, "text VARCHAR, whole BIGINT, number DOUBLE, yes BOOLEAN", types)
	rows, err := db.Query("SELECT coalesce(text, ''), coalesce(CAST(whole AS VARCHAR), '') FROM '" + path + "'")
	require.NoError(t, err)
	defer rows.Close()
	n := 0
	for ; rows.Next(); n++ {
		var text, whole string
		require.NoError(t, rows.Scan(&text, &whole))
		assert.Equal(t, hostile().Rows[n][:2], []string{text, whole})
	}
	require.NoError(t, rows.Err())
	assert.Len(t, hostile().Rows, n)
}

// TestSameRowsSameBytes holds every format, and a workbook of many sheets, whose parts
// the workbook library would put in another order in every run.
func TestSameRowsSameBytes(t *testing.T) {
	for _, format := range Formats {
		assert.True(t, bytes.Equal(written(t, format), written(t, format)), format)
	}
	var first []byte
	for range 4 {
		var b bytes.Buffer
		book, err := NewWorkbook(&b)
		require.NoError(t, err)
		for _, name := range []string{"e", "d", "c", "b", "a", "f", "g", "h"} {
			s := book.Sheet(About{name, name})
			require.NoError(t, hostile().Fill(s))
			require.NoError(t, s.Close())
		}
		require.NoError(t, book.Close())
		if first == nil {
			first = b.Bytes()
		}
		assert.True(t, bytes.Equal(first, b.Bytes()))
	}
}

// TestCellsOfAnotherKindAreRefused: a text in a column of numbers is a mistake of the
// program, which no file may hide.
func TestCellsOfAnotherKindAreRefused(t *testing.T) {
	for _, format := range []string{"json", "parquet", "xlsx"} {
		f, err := New(&bytes.Buffer{}, format, About{"x", "x"})
		require.NoError(t, err)
		require.NoError(t, f.Head([]Column{{"n", Whole}}))
		assert.ErrorContains(t, f.Row([]string{"twelve"}), "column n", format)
		_ = f.Close() // the mistake was told
	}
	_, err := New(&bytes.Buffer{}, "xml", About{})
	assert.ErrorContains(t, err, "csv, json, parquet, xlsx")
}
