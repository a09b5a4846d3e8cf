package sheets

import (
	"archive/zip"
	"bytes"
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"github.com/xuri/excelize/v2"
)

// saved writes a workbook with another program's library.
func saved(t testing.TB, fill func(f *excelize.File)) string {
	t.Helper()
	f := excelize.NewFile()
	fill(f)
	path := filepath.Join(t.TempDir(), "book.xlsx")
	require.NoError(t, f.SaveAs(path))
	require.NoError(t, f.Close())
	return path
}

func set(t testing.TB, f *excelize.File, sheet string, cells map[string]any) {
	t.Helper()
	for at, v := range cells {
		require.NoError(t, f.SetCellValue(sheet, at, v))
	}
}

func TestWorkbookCellsBecomeText(t *testing.T) {
	path := saved(t, func(f *excelize.File) {
		require.NoError(t, f.MergeCell("Sheet1", "A1", "D1"))
		set(t, f, "Sheet1", map[string]any{"A1": "A merged title", "A3": "text", "B3": "number", "C3": "date", "D3": "yes",
			"A4": "007", "B4": 65.3, "C4": time.Date(2024, 2, 29, 0, 0, 0, 0, time.UTC), "D4": true,
			"A5": "a\nb, \"c\"", "B5": -3, "C5": time.Date(2024, 2, 29, 13, 45, 0, 0, time.UTC), "D5": false,
			"B7": 0.1 + 0.2, "D7": " padded "})
		odd, err := f.NewStyle(&excelize.Style{CustomNumFmt: ptr(`dd"day"/mm/yy;@`)})
		require.NoError(t, err)
		set(t, f, "Sheet1", map[string]any{"C7": 45352, "E8": "styled below"})
		require.NoError(t, f.SetCellStyle("Sheet1", "C7", "C7", odd))
		require.NoError(t, f.SetCellStyle("Sheet1", "A20", "Z40", odd)) // rows with style and no content
		_, err = f.NewSheet("Hidden one")
		require.NoError(t, err)
		set(t, f, "Hidden one", map[string]any{"A1": "x"})
		require.NoError(t, f.SetSheetVisible("Hidden one", false))
	})
	b := opened(t, path)
	assert.Equal(t, []Info{{File: "book.xlsx", Sheet: "Sheet1", Format: XLSX}, {File: "book.xlsx", Sheet: "Hidden one", Format: XLSX, Hidden: true}}, b.Sheets())
	g, err := b.Grid(context.Background(), 0, Override{})
	require.NoError(t, err)
	assert.Equal(t, [][]string{
		{"1", "A merged title", "", "", "", ""},
		{"3", "text", "number", "date", "yes", ""},
		{"4", "007", "65.3", "2024-02-29", "true", ""},
		{"5", "a\nb, \"c\"", "-3", "2024-02-29 13:45:00", "false", ""},
		{"7", "", "0.3", "2024-03-01", " padded ", ""},
		{"8", "", "", "", "", "styled below"}}, cells(t, g))
	g, err = b.Grid(context.Background(), 1, Override{})
	require.NoError(t, err)
	assert.Equal(t, [][]string{{"1", "x"}}, cells(t, g))
}

func ptr[T any](v T) *T { return &v }

// Serials and their days: the first of each system and 29 February 1900 are told in
// ECMA-376 part 1, 18.17.4.1; 45351 = 2024-02-29 by counting from 1970-01-01 = 25569.
func TestDatesOfBothSystems(t *testing.T) {
	for _, c := range []struct {
		serial float64
		date04 bool
		want   string
	}{
		{1, false, "1900-01-01"}, {59, false, "1900-02-28"}, {60, false, ""}, {61, false, "1900-03-01"}, {25569, false, "1970-01-01"},
		{45351, false, "2024-02-29"}, {0.5, false, "12:00:00"}, {45351.25, false, "2024-02-29 06:00:00"}, {45351.999999, false, "2024-03-01"},
		{0, true, "1904-01-01"}, {45351 - 1462, true, "2024-02-29"}, {-1, false, ""}, {2958465, false, "9999-12-31"}, {2958466, false, ""},
	} {
		got, ok := dateText(c.serial, c.date04)
		assert.Equal(t, c.want, got, "%v %v", c.serial, c.date04)
		assert.Equal(t, c.want != "", ok)
	}
	path := saved(t, func(f *excelize.File) {
		require.NoError(t, f.SetWorkbookProps(&excelize.WorkbookPropsOptions{Date1904: ptr(true)}))
		set(t, f, "Sheet1", map[string]any{"A1": time.Date(2024, 2, 29, 0, 0, 0, 0, time.UTC)})
	})
	_, rows := only(t, path, Override{})
	assert.Equal(t, [][]string{{"1", "2024-02-29"}}, rows)
}

func TestDateFormatsAreTold(t *testing.T) {
	for code, want := range map[string]bool{
		"General": false, "0.00": false, "yyyy-mm-dd": true, "dd.mm.yyyy;@": true, "[$-409]d-mmm-yy": true, "h:mm AM/PM": true, "[h]:mm": false, "[ss].00": false,
		`0.0" days"`: false, `0\d`: false, `#,##0_m`: false, "[Red]0": false, `"mm" 0;yyyy`: false, "@": false, "MMM YY": true, "[h": false, `"open`: false,
	} {
		assert.Equal(t, want, isDateFormat(code), code)
	}
}

func TestNumbersAsShown(t *testing.T) {
	for x, want := range map[float64]string{0: "0", 3: "3", 65.3: "65.3", 0.1 + 0.2 + 1e-17: "0.3", 3.1999999999999957: "3.2", -0.25: "-0.25", 123456789012345: "123456789012345", 1e20: "100000000000000000000", 1e-7: "0.0000001", 1.5e300: "1.5e+300"} {
		assert.Equal(t, want, numberText(x))
	}
}

// raw builds a workbook part by part.
func raw(t testing.TB, parts map[string]string) string {
	t.Helper()
	base := map[string]string{
		contentTypes:                 `<Types/>`,
		"_rels/.rels":                `<Relationships><Relationship Id="r" Type="x/officeDocument" Target="xl/workbook.xml"/></Relationships>`,
		"xl/workbook.xml":            `<workbook xmlns:r="r"><sheets><sheet name="S" r:id="rId1"/></sheets></workbook>`,
		"xl/_rels/workbook.xml.rels": `<Relationships><Relationship Id="rId1" Type="x/worksheet" Target="/xl/worksheets/sheet1.xml"/><Relationship Id="rId2" Type="x/sharedStrings" Target="sharedStrings.xml"/></Relationships>`,
		"xl/sharedStrings.xml":       `<sst><si><r><t>one</t></r><r><t xml:space="preserve"> and</t></r><rPh><t>guide</t></rPh></si><si><t>tab_x0009_here_x000D_</t></si></sst>`,
	}
	for name, text := range parts {
		base[name] = text
	}
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for name, text := range base {
		w, err := z.Create(name)
		require.NoError(t, err)
		_, err = w.Write([]byte(text))
		require.NoError(t, err)
	}
	require.NoError(t, z.Close())
	return put(t, "raw.xlsx", b.String())
}

func rawSheet(t testing.TB, sheet string) string {
	return raw(t, map[string]string{"xl/worksheets/sheet1.xml": sheet})
}

func TestWorkbookKindsOfCells(t *testing.T) {
	_, rows := only(t, rawSheet(t, `<worksheet><sheetData>
<row r="2"><c r="B2" t="s"><v>0</v></c><c t="s"><v>1</v></c><c/><c t="str"><f>A1&amp;"x"</f><v>a&amp;b</v></c><c t="e"><f>1/0</f><v>#DIV/0!</v></c></row>
<row><c><f>1+2</f><v>3.0000000000000001</v></c><c t="d"><v>2024-02-29T00:00:00</v></c><c t="inlineStr"><is><t>in</t><r><t>line</t></r></is></c><c t="b"><v>1</v></c></row>
</sheetData><mergeCells/></worksheet>`), Override{})
	assert.Equal(t, [][]string{{"2", "", "one and", "tab\there\r", "", "a&b", "#DIV/0!"}, {"3", "3", "2024-02-29", "inline", "true", "", ""}}, rows)
}

func TestWorkbookFaults(t *testing.T) {
	for name, c := range map[string]struct{ sheet, want string }{
		"cut off":               {`<worksheet><sheetData><row r="1"><c><v>1</v></c></row><row r="2"><c><v>2`, "raw.xlsx[S]:2: found a damaged sheet (unexpected EOF"},
		"cut off between rows":  {`<worksheet><sheetData><row r="1"><c><v>1</v></c></row>`, "raw.xlsx[S]:1: found a damaged sheet"},
		"not well formed":       {`<worksheet><sheetData><row r="1"><c r=1><v>1</row>`, "found a damaged sheet"},
		"shared text not there": {`<worksheet><sheetData><row><c t="s"><v>7</v></c></row></sheetData></worksheet>`, `[S]:1: found a damaged sheet (the shared text "7"`},
		"rows out of order":     {`<worksheet><sheetData><row r="2"><c><v>1</v></c></row><row r="1"/></sheetData></worksheet>`, `the row number "1" after row 2`},
		"cells out of order":    {`<worksheet><sheetData><row><c r="B1"><v>1</v></c><c r="A1"><v>1</v></c></row></sheetData></worksheet>`, "the cell A1 after column 2"},
		"no number":             {`<worksheet><sheetData><row><c><v>abc</v></c></row></sheetData></worksheet>`, `the number "abc"`},
		"infinity":              {`<worksheet><sheetData><row><c><v>inf</v></c></row></sheetData></worksheet>`, `the number "inf"`},
		"formula never worked":  {`<worksheet><sheetData><row r="4"><c><f>A1</f></c></row></sheetData></worksheet>`, "[S]:4: found a formula without its value: open the workbook"},
		"far column":            {`<worksheet><sheetData><row><c r="XFD1"><v>1</v></c></row></sheetData></worksheet>`, "[S]:1: found something in column 16384"},
		"no such column":        {`<worksheet><sheetData><row><c r="ZZZZZZZZZZ1"><v>1</v></c></row></sheetData></worksheet>`, "the cell name"},
		"entity":                {`<!DOCTYPE x [<!ENTITY a "aaaa">]><worksheet><sheetData><row><c t="str"><v>&a;</v></c></row></sheetData></worksheet>`, "found a damaged sheet"},
		"huge text":             {`<worksheet><sheetData><row><c t="str"><v>` + strings.Repeat("x", maxRecord+1) + `</v></c></row></sheetData></worksheet>`, "more than 1 MiB"},
	} {
		t.Run(name, func(t *testing.T) {
			b := opened(t, rawSheet(t, c.sheet))
			_, err := b.Grid(context.Background(), 0, Override{})
			var fault *Fault
			require.ErrorAs(t, err, &fault)
			assert.Contains(t, err.Error(), c.want)
		})
	}
	_, err := Open(context.Background(), raw(t, map[string]string{"xl/workbook.xml": "<workbook><sheets>"}), t.TempDir())
	var fault *Fault
	require.ErrorAs(t, err, &fault)
	assert.Contains(t, err.Error(), "found a damaged workbook (xl/workbook.xml")
}

// TestBombsAreRefused holds the bounds on what a small file may unfold to.
func TestBombsAreRefused(t *testing.T) {
	ctx := context.Background()
	path := rawSheet(t, `<worksheet><sheetData><row><c t="str"><v>`+strings.Repeat("x", 1000)+`</v></c></row></sheetData></worksheet>`)
	b := opened(t, path)
	wb := &workbook{file: &file{name: "raw.xlsx"}, parts: map[string]*zip.File{}, left: 500}
	z, err := zip.OpenReader(path)
	require.NoError(t, err)
	defer z.Close()
	for _, p := range z.File {
		wb.parts[strings.ToLower(p.Name)] = p
	}
	w, err := newGridWriter(filepath.Join(t.TempDir(), "g.csv"), b.Sheets()[0])
	require.NoError(t, err)
	err = wb.readSheet(ctx, "xl/worksheets/sheet1.xml", w)
	require.ErrorContains(t, err, "found more than 4 GiB when unpacked")
	wb.parts["xl/worksheets/sheet1.xml"].UncompressedSize64 = 10 // a lie about the size
	err = wb.readSheet(ctx, "xl/worksheets/sheet1.xml", w)
	require.Error(t, err)
	_, err = w.finish()
	require.NoError(t, err)
	_, err = unpack(ctx, filepath.Join(t.TempDir(), "x"), 99, func() (io.ReadCloser, error) { return os.Open(path) })
	require.ErrorIs(t, err, errTooBig)
}

func zipped(t testing.TB, parts ...string) string {
	t.Helper()
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for i := 0; i < len(parts); i += 2 {
		w, err := z.Create(parts[i])
		require.NoError(t, err)
		_, err = w.Write([]byte(parts[i+1]))
		require.NoError(t, err)
	}
	require.NoError(t, z.Close())
	return b.String()
}

func TestFolderAndZipGiveTheSameSheets(t *testing.T) {
	book, err := os.ReadFile(rawSheet(t, `<worksheet><sheetData><row><c><v>1</v></c></row></sheetData></worksheet>`))
	require.NoError(t, err)
	parts := []string{"sub/b.csv", "a,b\n1,2\n", "a.tsv", "a\tb\n1\t2\n", "README.md", "words", "c.csv.gz", gzipped(t, "a;b\n1;2\n"), "d.xlsx", string(book), ".hidden.csv", "x,y\n"}
	dir := t.TempDir()
	for i := 0; i < len(parts); i += 2 {
		path := filepath.Join(dir, parts[i])
		require.NoError(t, os.MkdirAll(filepath.Dir(path), 0o700))
		require.NoError(t, os.WriteFile(path, []byte(parts[i+1]), 0o600))
	}
	want := []Info{{File: "a.tsv", Format: CSV, Encoding: UTF8, Delimiter: '\t'}, {File: "c.csv.gz", Format: CSV, Encoding: UTF8, Delimiter: ';'},
		{File: "d.xlsx", Sheet: "S", Format: XLSX}, {File: "sub/b.csv", Format: CSV, Encoding: UTF8, Delimiter: ','}}
	for _, path := range []string{dir, put(t, "all.zip", zipped(t, parts...))} {
		b := opened(t, path)
		assert.Equal(t, want, b.Sheets())
		assert.ElementsMatch(t, []string{".hidden.csv", "README.md"}, b.Skipped())
		for i := range want {
			g, err := b.Grid(context.Background(), i, Override{})
			require.NoError(t, err)
			assert.NotEmpty(t, cells(t, g))
		}
	}
}

func TestBadArchivesAreRefused(t *testing.T) {
	for name, c := range map[string]struct{ path, want string }{
		"climbs out":      {put(t, "a.zip", zipped(t, "../../evil.csv", "a,b\n")), "a.zip/../../evil.csv: found a name that points out of the archive"},
		"absolute":        {put(t, "a.zip", zipped(t, "/etc/evil.csv", "a,b\n")), "points out of the archive"},
		"backslash":       {put(t, "a.zip", zipped(t, `..\evil.csv`, "a,b\n")), "points out of the archive"},
		"zip in zip":      {put(t, "a.zip", zipped(t, "b.zip", zipped(t, "c.csv", "a,b\n"))), "a.zip/b.zip: found a zip inside the zip"},
		"nothing in it":   {put(t, "a.zip", zipped(t, "notes.md", "words")), "found nothing that could be a table"},
		"no such path":    {filepath.Join(t.TempDir(), "x"), "found nothing at this path"},
		"an empty folder": {t.TempDir(), "found nothing that could be a table"},
		"open document":   {put(t, "a.ods", zipped(t, contentTypes, "x")), "found a workbook of another kind"},
	} {
		scratch := t.TempDir()
		_, err := Open(context.Background(), c.path, scratch)
		var fault *Fault
		require.ErrorAs(t, err, &fault, name)
		assert.Contains(t, err.Error(), c.want, name)
		outside, err := filepath.Glob(filepath.Join(scratch, "..", "*evil*"))
		require.NoError(t, err)
		assert.Empty(t, outside, name)
	}
}

// large writes a workbook of rows x 12 cells: texts, numbers, dates, codes.
func large(t testing.TB, rows int) string {
	t.Helper()
	return saved(t, func(f *excelize.File) {
		day, err := f.NewStyle(&excelize.Style{NumFmt: 14})
		require.NoError(t, err)
		w, err := f.NewStreamWriter("Sheet1")
		require.NoError(t, err)
		for i := 1; i <= rows; i++ {
			row := []any{fmt.Sprintf("K%08d", i), fmt.Sprintf("P%08d", i), "S1", "C004", excelize.Cell{StyleID: day, Value: 45000 + i%365}, 72, "female", 65.5, 62.25, "ridge|border", true, i}
			require.NoError(t, w.SetRow(fmt.Sprintf("A%d", i), row))
		}
		require.NoError(t, w.Flush())
	})
}

// BenchmarkWorkbook reads 200,000 rows of 12 cells.
func BenchmarkWorkbook(b *testing.B) {
	path := large(b, 200000)
	for b.Loop() {
		book := opened(b, path)
		g, err := book.Grid(context.Background(), 0, Override{})
		require.NoError(b, err)
		require.Equal(b, int64(200000), g.Rows)
		require.Equal(b, []string{"K00000001", "P00000001", "S1", "C004", "2023-03-16", "72", "female", "65.5", "62.25", "ridge|border", "true", "1"}, g.Head[0])
	}
}

// BenchmarkText reads 1,000,000 rows of 12 cells.
func BenchmarkText(b *testing.B) {
	path := put(b, "x.csv", strings.Repeat("K00000001;P00000001;S1;C004;2024-03-16;72;female;65,5;62,25;ridge|border;true;1\n", 1000000))
	for b.Loop() {
		g, err := opened(b, path).Grid(context.Background(), 0, Override{})
		require.NoError(b, err)
		require.Equal(b, int64(1000000), g.Rows)
	}
}
