package sheets

import (
	"archive/zip"
	"bytes"
	"context"
	"errors"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// unfolds is how many bytes of grid one byte of input may become: a row of a few
// bytes is padded to the width of the widest, which has at most maxColumns cells.
const unfolds = maxColumns

// readable opens an export of fuzzed content and holds what every export is due: it
// is read in time, or refused with a Fault that names the file, and a grid is whole.
func readable(t *testing.T, name string, content []byte) {
	dir := t.TempDir()
	path := filepath.Join(dir, name)
	require.NoError(t, os.WriteFile(path, content, 0o600))
	scratch := filepath.Join(dir, "scratch")
	require.NoError(t, os.Mkdir(scratch, 0o700))
	began := time.Now()
	ctx, cancel := context.WithTimeout(context.Background(), 20*time.Second)
	defer cancel()
	b, err := Open(ctx, path, scratch)
	if err != nil {
		wantFault(t, err)
		return
	}
	for i, info := range b.Sheets() {
		g, err := b.Grid(ctx, i, Override{})
		if err != nil {
			wantFault(t, err)
			continue
		}
		size, err := os.Stat(g.Path)
		require.NoError(t, err)
		if packed := info.Format == XLSX || bytes.HasPrefix(content, []byte(gzipStart)); !packed {
			require.LessOrEqual(t, size.Size(), int64(unfolds*(len(content)+1)))
		}
		whole(t, g)
	}
	require.NoError(t, b.Close())
	require.Less(t, time.Since(began), 15*time.Second)
}

func wantFault(t *testing.T, err error) {
	var fault *Fault
	require.True(t, errors.As(err, &fault), "no Fault: %v", err)
	require.NotEmpty(t, fault.File)
	require.NotEmpty(t, fault.Found)
	require.NotEmpty(t, fault.Remedy)
}

// whole reads a grid back: as many rows as counted, all of one width, in the order
// of their lines, none of them empty.
func whole(t *testing.T, g *Grid) {
	rows, last := int64(0), int64(-1)
	require.NoError(t, g.Each(context.Background(), func(line int64, cells []string) error {
		require.Len(t, cells, g.Width)
		require.GreaterOrEqual(t, line, last)
		require.True(t, slices.ContainsFunc(cells, func(c string) bool { return c != "" }))
		if rows < int64(len(g.Head)) {
			require.Equal(t, g.Head[rows], cells)
			require.Equal(t, g.HeadLines[rows], line)
		}
		rows, last = rows+1, line
		return nil
	}))
	require.Equal(t, g.Rows, rows)
}

func FuzzText(f *testing.F) {
	for _, seed := range []string{sample, utf16of(sample, false, true), utf16of(sample, true, false), "a;b\r\n1,5;\"x\r\ny\"\r\n", "a\rb\r", "\xef\xbb\xbfa|b\n\n1|\xff\n", "a,b\n\x80,\"\"\n", "{\"a\": [1, {\"b\": null}]}\n", "a\tb\n1\t\"2", gzipped(f, sample)} {
		f.Add([]byte(seed))
	}
	f.Fuzz(func(t *testing.T, content []byte) { readable(t, "x.csv", content) })
}

func FuzzWorkbookFile(f *testing.F) {
	for _, path := range []string{rawSheet(f, `<worksheet><sheetData><row r="2"><c r="B2" t="s"><v>0</v></c></row></sheetData></worksheet>`), large(f, 3)} {
		content, err := os.ReadFile(path)
		require.NoError(f, err)
		f.Add(content)
	}
	f.Add([]byte(zipped(f, "a.csv", "a,b\n1,2\n", "b/c.tsv", "a\tb\n")))
	f.Fuzz(func(t *testing.T, content []byte) { readable(t, "x.xlsx", content) })
}

// FuzzSheet puts fuzzed XML where a sheet, its texts, its styles and the list of
// sheets stand, which a fuzzed zip seldom reaches.
func FuzzSheet(f *testing.F) {
	f.Add(`<worksheet><sheetData><row r="2"><c r="B2" t="s" s="1"><v>0</v></c><c t="b"><v>1</v></c></row><row><c t="inlineStr"><is><t>x</t></is></c></row></sheetData></worksheet>`,
		`<sst><si><t>a</t></si><si><r><t>b</t></r><rPh><t>c</t></rPh></si></sst>`,
		`<styleSheet><numFmts><numFmt numFmtId="164" formatCode="dd.mm.yyyy"/></numFmts><cellXfs><xf numFmtId="0"/><xf numFmtId="164"/></cellXfs></styleSheet>`,
		`<workbook><workbookPr date1904="1"/><sheets><sheet name="S" id="rId1" state="hidden"/></sheets></workbook>`)
	f.Fuzz(func(t *testing.T, sheet, texts, styles, list string) {
		var b bytes.Buffer
		z := zip.NewWriter(&b)
		for _, p := range [][2]string{{contentTypes, "<Types/>"}, {"_rels/.rels", `<R><Relationship Id="r" Type="/officeDocument" Target="xl/workbook.xml"/></R>`},
			{"xl/_rels/workbook.xml.rels", `<R><Relationship Id="rId1" Type="/worksheet" Target="s.xml"/><Relationship Id="rId2" Type="/sharedStrings" Target="t.xml"/><Relationship Id="rId3" Type="/styles" Target="y.xml"/></R>`},
			{"xl/workbook.xml", list}, {"xl/s.xml", sheet}, {"xl/t.xml", texts}, {"xl/y.xml", styles}} {
			w, err := z.Create(p[0])
			require.NoError(t, err)
			_, err = w.Write([]byte(p[1]))
			require.NoError(t, err)
		}
		require.NoError(t, z.Close())
		readable(t, "x.xlsx", b.Bytes())
	})
}

func FuzzJSONLines(f *testing.F) {
	f.Add([]byte("{\"a\": 1.50, \"b\": {\"c\": true}, \"d\": [{\"e\": \"x\"}, {\"a\": 2}]}\n\n{\"z\": [1, \"2\", null]}\n"))
	f.Fuzz(func(t *testing.T, content []byte) { readable(t, "x.ndjson", append([]byte("{"), content...)) })
}

// FuzzCut holds that the records of a text follow each other without a gap, that a
// record is cut alike wherever the text is cut off behind it, and that what the
// grid writes is read back as it was.
func FuzzCut(f *testing.F) {
	f.Add([]byte("a,\"b\"\"\n\",c\r\nd\n"), byte(','))
	f.Add([]byte("\"x\"y;\"z\n\n"), byte(';'))
	f.Fuzz(func(t *testing.T, data []byte, delim byte) {
		if delim == '"' || delim == '\n' || delim == '\r' {
			return
		}
		var cells []string
		for at := 0; at < len(data); {
			r := Cut(data, at, delim)
			require.Equal(t, at, r.From)
			require.Greater(t, r.Next, at)
			require.LessOrEqual(t, r.To, r.Next)
			require.Equal(t, int64(bytes.Count(data[at:r.Next], []byte{'\n'})), r.Lines-int64(boolInt(!r.Ended)))
			if r.Ended {
				require.Equal(t, r, Cut(data[:r.Next], at, delim))
			}
			if r.Fault == "" || r.Fault == InnerQuote || r.Fault == LoneReturn {
				got := split(data[r.From:r.To], delim, nil)
				require.Len(t, got, r.Cells)
				cells = append(cells, got...)
			}
			at = r.Next
		}
		var line []byte
		for i, c := range cells {
			if i > 0 {
				line = append(line, ',')
			}
			line = appendCell(line, c)
		}
		if len(cells) > 0 {
			r := Cut(append(line, '\n'), 0, ',')
			require.Empty(t, r.Fault)
			require.True(t, r.Ended)
			require.Equal(t, cells, split(line, ',', nil))
		}
	})
}

func boolInt(b bool) int {
	if b {
		return 1
	}
	return 0
}

func FuzzDelimiter(f *testing.F) {
	f.Add([]byte(sample))
	f.Fuzz(func(t *testing.T, head []byte) {
		d := sniffDelimiter(head)
		require.True(t, d == 0 || slices.Contains(delimiters, byte(d)))
		require.Equal(t, d, sniffDelimiter(head))
	})
}
