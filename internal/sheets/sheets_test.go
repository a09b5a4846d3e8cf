package sheets

import (
	"bytes"
	"compress/gzip"
	"context"
	"encoding/csv"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"unicode/utf16"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/text/encoding/charmap"
)

// put writes a file into a folder of the test's own.
func put(t testing.TB, name, text string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), name)
	require.NoError(t, os.WriteFile(path, []byte(text), 0o600))
	return path
}

// opened opens an export that must be readable.
func opened(t testing.TB, path string) *Book {
	t.Helper()
	b, err := Open(context.Background(), path, t.TempDir())
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, b.Close()) })
	return b
}

// cells reads a grid back, with an independent reader of CSV: line, then cells.
func cells(t testing.TB, g *Grid) [][]string {
	t.Helper()
	f, err := os.Open(g.Path)
	require.NoError(t, err)
	defer f.Close()
	r := csv.NewReader(f)
	r.FieldsPerRecord = g.Width + 1
	rows, err := r.ReadAll()
	require.NoError(t, err)
	require.Len(t, rows, int(g.Rows))
	for i, h := range g.Head {
		for j, cell := range h {
			require.Equal(t, rows[i][j+1], strings.ReplaceAll(cell, "\r\n", "\n")) // encoding/csv reads a line break as \n
		}
	}
	return rows
}

func only(t testing.TB, path string, as Override) (*Grid, [][]string) {
	t.Helper()
	b := opened(t, path)
	require.Len(t, b.Sheets(), 1)
	g, err := b.Grid(context.Background(), 0, as)
	require.NoError(t, err)
	return g, cells(t, g)
}

func utf16of(s string, big, mark bool) string {
	var out []byte
	units := utf16.Encode([]rune(s))
	if mark {
		units = append([]uint16{0xfeff}, units...)
	}
	for _, u := range units {
		if big {
			out = append(out, byte(u>>8), byte(u))
		} else {
			out = append(out, byte(u), byte(u>>8))
		}
	}
	return string(out)
}

func gzipped(t testing.TB, text string) string {
	t.Helper()
	var b bytes.Buffer
	w := gzip.NewWriter(&b)
	_, err := w.Write([]byte(text))
	require.NoError(t, err)
	require.NoError(t, w.Close())
	return b.String()
}

// sample is one table in every dialect: a title, a blank line, an umlaut, a quoted
// cell with a line break and a delimiter, a cell with a comma, a row of nothing and a short row.
const sample = "List of cases\n\nFall;Größe;Wert\nK1;\"groß;\nbreit\";1,5\n;;\nK2\n"

var sampleRows = [][]string{{"1", "List of cases", "", ""}, {"3", "Fall", "Größe", "Wert"}, {"4", "K1", "groß;\nbreit", "1,5"}, {"7", "K2", "", ""}}

func TestTextInEveryEncodingDelimiterAndLineEnd(t *testing.T) {
	latin := func(s string) string {
		out, err := charmap.Windows1252.NewEncoder().String(s)
		require.NoError(t, err)
		return out
	}
	encodings := map[string]struct {
		encode func(string) string
		want   string
	}{
		"UTF-8":           {func(s string) string { return s }, UTF8},
		"UTF-8 with mark": {func(s string) string { return "\ufeff" + s }, UTF8},
		"UTF-16 LE mark":  {func(s string) string { return utf16of(s, false, true) }, UTF16LE},
		"UTF-16 BE mark":  {func(s string) string { return utf16of(s, true, true) }, UTF16BE},
		"UTF-16 LE plain": {func(s string) string { return utf16of(s, false, false) }, UTF16LE},
		"UTF-16 BE plain": {func(s string) string { return utf16of(s, true, false) }, UTF16BE},
		"Latin-1":         {latin, Latin1},
		"gzip":            {func(s string) string { return gzipped(t, s) }, UTF8},
		"gzip of UTF-16":  {func(s string) string { return gzipped(t, utf16of(s, true, true)) }, UTF16BE},
	}
	for name, e := range encodings {
		for _, delim := range []string{";", "\t", "|", ","} {
			for _, end := range []string{"\n", "\r\n", "\r"} {
				text := strings.ReplaceAll(strings.ReplaceAll(sample, "1,5", "1.5"), ";", delim)
				g, rows := only(t, put(t, "x.csv", e.encode(strings.ReplaceAll(text, "\n", end))), Override{})
				want := [][]string{}
				for _, r := range sampleRows {
					row := make([]string, len(r))
					for i, c := range r {
						row[i] = strings.ReplaceAll(strings.ReplaceAll(c, "1,5", "1.5"), ";", delim)
					}
					want = append(want, row)
				}
				require.Equal(t, want, rows, "%s %q %q", name, delim, end)
				assert.Equal(t, Info{File: "x.csv", Format: CSV, Encoding: e.want, Delimiter: rune(delim[0])}, g.Info, name)
				assert.Equal(t, int64(2), g.Blank)
				assert.Equal(t, []int64{1, 3, 4, 7}, g.HeadLines)
			}
		}
	}
}

func TestSniffingFollowsItsRule(t *testing.T) {
	for name, c := range map[string]struct {
		text     string
		encoding string
		delim    rune
	}{
		"decimal commas in a semicolon file":  {"a;b\n1,5;2,5\n2,5;3,5\n", UTF8, ';'},
		"semicolons in quoted comma cells":    {"a,b\n\"x;y\",2\n\"x;y\",3\n", UTF8, ','},
		"one column":                          {"a\nb\nc\n", UTF8, 0},
		"one column with a rare comma":        {"a\nb\nc\nd\ne\nf,g\nh\n", UTF8, 0},
		"euro sign in Windows-1252":           {"a,b\n\x80,\xe4\n", Windows1252, ','},
		"umlaut without control bytes":        {"a,b\n\xfc,\xe4\n", Latin1, ','},
		"umlaut far behind the sample":        {"a,b\n" + strings.Repeat("1,2\n", 40000) + "\xfc,2\n", Latin1, ','},
		"UTF-8 letter far behind the sample":  {"a,b\n" + strings.Repeat("1,2\n", 40000) + "ü,2\n", UTF8, ','},
		"UTF-8 letter cut by a read's border": {strings.Repeat("1,2\n", 1<<16-1) + "1,2ü\n1,2\n", UTF8, ','},
	} {
		b := opened(t, put(t, "x.csv", c.text))
		assert.Equal(t, c.encoding, b.Sheets()[0].Encoding, name)
		assert.Equal(t, c.delim, b.Sheets()[0].Delimiter, name)
	}
}

func TestWindows1252KeepsItsOwnSigns(t *testing.T) {
	_, rows := only(t, put(t, "x.csv", "a,b\n\x80 5,\xe4\x85\n"), Override{})
	assert.Equal(t, []string{"2", "€ 5", "ä…"}, rows[1])
}

func TestOverrideForces(t *testing.T) {
	path := put(t, "x.csv", "a;b,c\n1;2,3\n\x84;x,y\n")
	g, rows := only(t, path, Override{Delimiter: ',', Encoding: "cp850"})
	assert.Equal(t, [][]string{{"1", "a;b", "c"}, {"2", "1;2", "3"}, {"3", "ä;x", "y"}}, rows)
	assert.Equal(t, "cp850", g.Encoding)
	b := opened(t, path)
	for _, as := range []Override{{Encoding: UTF8}, {Encoding: "klingon"}, {Delimiter: 'ä'}} {
		_, err := b.Grid(context.Background(), 0, as)
		var fault *Fault
		require.ErrorAs(t, err, &fault)
		assert.Equal(t, "x.csv", fault.File)
	}
}

func TestFaultsNameLineAndRemedy(t *testing.T) {
	for name, c := range map[string]struct{ text, want string }{
		"unclosed quote":       {"a,b\n1,\"2\n3,4\n", `x.csv:2: found an unclosed quote: close the quote`},
		"text after quote":     {"a,b\n1,2\n\"x\"y,2\n", `x.csv:3: found text after a closing quote`},
		"return after quote":   {"a,b\n\"x\"\ry,2\n", `x.csv:2: found text after a closing quote`},
		"NUL":                  {"a,b\n1,2\n1,\x00\n", "x.csv:3: found a NUL byte"},
		"NUL far behind":       {"a,b\n" + strings.Repeat("1,2\n", 40000) + "1,\x00\n", "x.csv:40002: found a NUL byte"},
		"damaged UTF-8":        {"a,b\nü,ä\nö,\xff\n", "x.csv:3: found the byte 0xFF, which is no UTF-8"},
		"neither":              {"a,b\n1,\x81\n", "x.csv:2: found the byte 0x81, which is neither UTF-8 nor Windows-1252"},
		"half a UTF-16 letter": {utf16of("a,b\n1,2\n", false, true) + "x", "x.csv:3: found bytes that are no utf-16le"},
		"record without end":   {"a,b\n1,\"" + strings.Repeat("x\n", 1<<20), "x.csv:2: found a record of more than 1 MiB"},
		"too many columns":     {strings.Repeat("x,", maxColumns) + "x\n", "x.csv:1: found a row of 2001 cells"},
		"empty":                {"", "x.csv: found an empty file"},
		"blank":                {" \n\n", "x.csv: found an empty file"},
		"PDF":                  {"%PDF-1.7", "x.csv: found a PDF"},
		"old workbook":         {"\xd0\xcf\x11\xe0\xa1\xb1", "x.csv: found an old workbook or one with a password"},
		"damaged zip":          {zipStart + "xxxx", "x.csv: found a damaged zip or workbook"},
		"damaged gzip":         {gzipStart + "\x08xxxx", "x.csv: found a file that cannot be unpacked"},
		"gzip in gzip":         {gzipped(t, gzipped(t, "a,b\n")), "x.csv: found a gzip of something that is no text"},
		"JSON list":            {"[\n {\"a\": 1}]", "x.csv: found a list in JSON"},
		"UTF-32":               {"\xff\xfe\x00\x00a\x00\x00\x00", "x.csv: found UTF-32 text"},
	} {
		t.Run(name, func(t *testing.T) {
			b, err := Open(context.Background(), put(t, "x.csv", c.text), t.TempDir())
			if err == nil {
				_, err = b.Grid(context.Background(), 0, Override{})
			}
			var fault *Fault
			require.ErrorAs(t, err, &fault)
			assert.Contains(t, err.Error(), c.want)
			assert.NotEmpty(t, fault.Remedy)
		})
	}
}

func TestGridWidensForALateRow(t *testing.T) {
	text := strings.Repeat("1,\"x\"\"\ny\"\n", 20000) + "1,2,3\n1,2,3,\"a,b\"\n1\n"
	g, rows := only(t, put(t, "x.csv", text), Override{})
	assert.Equal(t, 4, g.Width)
	assert.Equal(t, []string{"1", "1", "x\"\ny", "", ""}, rows[0])
	assert.Equal(t, []string{"39999", "1", "x\"\ny", "", ""}, rows[19999])
	assert.Equal(t, []string{"40002", "1", "2", "3", "a,b"}, rows[20001])
	assert.Equal(t, []string{"40003", "1", "", "", ""}, rows[20002])
}

func TestAFileThatChangesIsNoticed(t *testing.T) {
	path := put(t, "x.csv", "a,b\n1,2\n")
	b := opened(t, path)
	require.NoError(t, os.WriteFile(path, []byte("a,b\n1,2\n3,4\n"), 0o600))
	_, err := b.Grid(context.Background(), 0, Override{})
	require.Error(t, err)
	assert.Contains(t, err.Error(), "changed while it was read")
	left, err := filepath.Glob(filepath.Join(b.scratch, "*"))
	require.NoError(t, err)
	assert.Empty(t, left, "a grid of a refused file is left behind")
}

func TestCancelledReadLeavesNothing(t *testing.T) {
	b := opened(t, put(t, "x.csv", "a,b\n1,2\n"))
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	_, err := b.Grid(ctx, 0, Override{})
	require.ErrorIs(t, err, context.Canceled)
	left, err := filepath.Glob(filepath.Join(b.scratch, "*"))
	require.NoError(t, err)
	assert.Empty(t, left)
}
