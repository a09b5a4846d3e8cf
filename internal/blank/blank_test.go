package blank

import (
	"bytes"
	"html"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"github.com/xuri/excelize/v2"

	"afterfit/internal/bundle"
)

func workbook(t *testing.T, c Content) *excelize.File {
	t.Helper()
	var b bytes.Buffer
	require.NoError(t, Workbook(&b, c))
	f, err := excelize.OpenReader(&b)
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, f.Close()) })
	return f
}

func TestWorkbookFollowsTheContract(t *testing.T) {
	f := workbook(t, Content{})
	want := []string{HelpSheet, CodesSheet}
	for _, tb := range bundle.Tables {
		want = append(want, tb.Name)
		rows, err := f.GetRows(tb.Name)
		require.NoError(t, err)
		require.Len(t, rows, 2, tb.Name)
		assert.Equal(t, tb.Names(), rows[1])
		checks, err := f.GetDataValidations(tb.Name)
		require.NoError(t, err)
		require.Len(t, checks, len(tb.Columns), tb.Name)
		for i, c := range tb.Columns {
			head := rows[0][i]
			require.NotEmpty(t, labels[tb.Name][c.Name], "%s.%s has no label", tb.Name, c.Name)
			assert.Contains(t, head, labels[tb.Name][c.Name])
			if c.Unit == "mm" || c.Unit == "min" {
				assert.Contains(t, head, "("+c.Unit+")")
			}
			assert.Equal(t, c.Required, strings.HasSuffix(head, ", needed"), head)
			checkOf(t, f, tb, c, checks[i])
		}
	}
	assert.Equal(t, append(want, NoteSheet), f.GetSheetList())
	hidden, err := f.GetSheetVisible(CodesSheet)
	require.NoError(t, err)
	assert.False(t, hidden)
	assert.Len(t, labels, len(bundle.Tables))
	for _, tb := range bundle.Tables {
		assert.Len(t, labels[tb.Name], len(tb.Columns), "labels of columns that are not there: %s", tb.Name)
	}
}

// checkOf compares one column's check with the contract.
func checkOf(t *testing.T, f *excelize.File, tb bundle.Table, c bundle.Column, dv *excelize.DataValidation) {
	t.Helper()
	name := tb.Name + "." + c.Name
	switch c.Kind {
	case bundle.Code, bundle.Codes, bundle.AgeBand:
		assert.Equal(t, "list", dv.Type, name)
		sheet, area, _ := strings.Cut(dv.Formula1, "!")
		assert.Equal(t, CodesSheet, sheet, name)
		from, to, _ := strings.Cut(strings.ReplaceAll(area, "$", ""), ":")
		assert.Equal(t, c.Codes, column(t, f, from, to), name)
		assert.Equal(t, c.Kind == bundle.Code, dv.ShowErrorMessage, name)
	case bundle.Int, bundle.Day, bundle.Length:
		r := rangeOf(c)
		require.NotNil(t, r, name)
		assert.Equal(t, []string{trim(r.Min), trim(r.Max)}, []string{dv.Formula1, dv.Formula2}, name)
		assert.True(t, dv.ShowErrorMessage, name)
	}
	assert.True(t, dv.ShowInputMessage, name)
	assert.LessOrEqual(t, len(*dv.Prompt), maxPrompt)
}

func trim(x float64) string { return strconv.FormatFloat(x, 'f', -1, 64) }

func column(t *testing.T, f *excelize.File, from, to string) []string {
	t.Helper()
	col, first, err := excelize.CellNameToCoordinates(from)
	require.NoError(t, err)
	_, last, err := excelize.CellNameToCoordinates(to)
	require.NoError(t, err)
	var out []string
	for r := first; r <= last; r++ {
		at, err := excelize.CoordinatesToCellName(col, r)
		require.NoError(t, err)
		v, err := f.GetCellValue(CodesSheet, at)
		require.NoError(t, err)
		out = append(out, v)
	}
	return out
}

func TestWorkbookGivesTheSameBytes(t *testing.T) {
	var a, b bytes.Buffer
	require.NoError(t, Workbook(&a, Content{}))
	require.NoError(t, Workbook(&b, Content{}))
	assert.True(t, bytes.Equal(a.Bytes(), b.Bytes()))
}

func TestPaperAsksForEveryColumn(t *testing.T) {
	var b bytes.Buffer
	require.NoError(t, Paper(&b, "A4"))
	text := html.UnescapeString(b.String())
	for _, tb := range bundle.Tables {
		for _, c := range tb.Columns {
			if c.Name == "case_id" && tb.Name != "cases" || c.Name == "arch" && (tb.Name == "trays" || tb.Name == "dentures") {
				continue // the sheet is one case, and the arches stand side by side
			}
			assert.Contains(t, text, labels[tb.Name][c.Name], "%s.%s", tb.Name, c.Name)
			for _, code := range readable(c.Codes) {
				assert.Contains(t, text, code, "%s.%s", tb.Name, c.Name)
			}
		}
	}
	assert.Contains(t, text, "size: a4")
	assert.NotContains(t, text, "://", "the form asks for nothing from a network")
	assert.Error(t, Paper(&b, "A5"))
}
