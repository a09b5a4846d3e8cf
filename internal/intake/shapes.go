package intake

import (
	"archive/zip"
	"bufio"
	"context"
	"crypto/sha256"
	"encoding/csv"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"afterfit/internal/blank"
	"afterfit/internal/bundle"
	"afterfit/internal/sheets"
)

// shapes is a bundle that is no plain folder of CSV files: a workbook with a sheet
// for each table, a zip or folder with gzipped CSV or Parquet files. Its sheets and
// files bear the names of the tables. Plain CSV inside is read as strictly as in a
// folder.
type shapes struct {
	book *sheets.Book
	note Note
	at   map[string]int // table -> sheet of the book
}

// otherShape reports a folder with something else than CSV files in it.
func otherShape(dir string) bool {
	entries, err := os.ReadDir(dir)
	if err != nil {
		return false
	}
	for _, e := range entries {
		switch strings.ToLower(filepath.Ext(e.Name())) {
		case ".xlsx", ".xlsm", ".parquet", ".gz", ".ndjson", ".jsonl", ".zip":
			return !strings.HasPrefix(e.Name(), ".")
		}
	}
	return false
}

func openShapes(ctx context.Context, exportPath, scratch string) (*shapes, error) {
	book, err := sheets.Open(ctx, exportPath, scratch)
	if err != nil {
		return nil, asBadData(err)
	}
	s := &shapes{book: book, at: map[string]int{}}
	err = s.find(ctx)
	infos := book.Sheets()
	if single := infos[0].Sheet == "" && infos[0].File == filepath.Base(exportPath); err == nil && single {
		err = Fault{File: exportPath, Found: "a single file", Remedy: "name the folder that holds cases.csv and the other tables, or give a mapping"}
	}
	if err == nil {
		err = s.readNote(ctx, exportPath)
	}
	if err != nil {
		return nil, errors.Join(err, book.Close())
	}
	return s, nil
}

// tableName is the name that a sheet goes by.
func tableName(info sheets.Info) string {
	if info.Sheet != "" {
		return info.Sheet
	}
	name := strings.TrimSuffix(path.Base(info.File), ".gz")
	return strings.TrimSuffix(name, path.Ext(name))
}

// find tells the tables by their names. A sheet that is no table is refused like a
// CSV file that is none, unless there is nothing on it.
func (s *shapes) find(ctx context.Context) error {
	var strange []int
	for i, info := range s.book.Sheets() {
		name := tableName(info)
		if _, ok := bundle.Find(name); !ok {
			if info.Format != sheets.XLSX || !contains([]string{blank.NoteSheet, blank.HelpSheet, blank.CodesSheet}, name) {
				strange = append(strange, i)
			}
			continue
		}
		if _, twice := s.at[name]; twice {
			return Fault{Table: name, File: label(info), Found: "the table " + name + " a second time", Remedy: "keep one of the two"}
		}
		s.at[name] = i
	}
	for _, i := range strange {
		info := s.book.Sheets()[i]
		g, err := s.book.Grid(ctx, i, sheets.Override{})
		if err != nil {
			return asBadData(err)
		}
		if g.Rows == 0 && info.Format == sheets.XLSX {
			continue
		}
		var absent []string
		for _, t := range bundle.Tables {
			if _, ok := s.at[t.Name]; !ok {
				absent = append(absent, t.Name)
			}
		}
		return Fault{File: label(info), Found: "what is no table of the contract",
			Remedy: suggest(tableName(info), absent, "rename it to %s", "take it out, or give a mapping with --mapping")}
	}
	return nil
}

// label names a sheet for messages.
func label(info sheets.Info) string {
	if info.Sheet == "" {
		return info.File
	}
	return info.File + "[" + info.Sheet + "]"
}

func (s *shapes) Note() Note { return s.note }

func (s *shapes) Tables() []string {
	var names []string
	for _, t := range bundle.Tables {
		if _, ok := s.at[t.Name]; ok {
			names = append(names, t.Name)
		}
	}
	return names
}

func (s *shapes) Unchanged() error { return asBadData(s.book.Unchanged()) }

// Close closes the files behind the tables.
func (s *shapes) Close() error { return s.book.Close() }

// closeSource closes a source that holds files open.
func closeSource(src Source) error {
	if c, ok := src.(io.Closer); ok {
		return c.Close()
	}
	return nil
}

func (s *shapes) Read(ctx context.Context, table, scratch string) (*Sheet, error) {
	i := s.at[table]
	info := s.book.Sheets()[i]
	if text := s.book.Text(i); text != "" {
		return readCSV(ctx, table, info.File, text, scratch)
	}
	cols, err := s.book.Columnar(ctx, i)
	if err != nil {
		return nil, asBadData(err)
	}
	if cols != nil {
		return columnarSheet(table, label(info), cols)
	}
	g, err := s.book.Grid(ctx, i, sheets.Override{})
	if err != nil {
		return nil, asBadData(err)
	}
	return plainSheet(ctx, table, g, scratch)
}

// columnarSheet hands a Parquet file itself to DuckDB. Its rows are numbered from 1,
// there being no header line.
func columnarSheet(table, name string, cols *sheets.Columns) (*Sheet, error) {
	seen, err := os.Stat(cols.Path)
	if err != nil {
		return nil, err
	}
	in, err := os.Open(cols.Path)
	if err != nil {
		return nil, err
	}
	defer func() { _ = in.Close() }() // only read from
	sum := sha256.New()
	if _, err := io.Copy(sum, in); err != nil {
		return nil, err
	}
	return &Sheet{Table: table, File: name, Path: cols.Path, Header: cols.Names, Records: cols.Rows, Shifts: []Shift{{0, 1}},
		Seen: seen, SeenAt: cols.Path, SHA256: hex.EncodeToString(sum.Sum(nil)), Columns: cols}, nil
}

// headerSearch is in how many rows the column names are looked for; those above
// them are headings for people.
const headerSearch = 10

// headerOf finds the row of the column names: the first with the most names of the
// table's columns, or the first row at all where none has any.
func headerOf(t bundle.Table, g *sheets.Grid) int {
	best, most := 0, 0
	for i, row := range g.Head[:min(headerSearch, len(g.Head))] {
		known := 0
		for _, cell := range row {
			if _, ok := t.Column(cell); ok {
				known++
			}
		}
		if known > most {
			best, most = i, known
		}
	}
	return best
}

// gridCopy writes the rows of a grid as the CSV that DuckDB reads.
type gridCopy struct {
	sheet  *Sheet
	w      *csv.Writer
	header int64 // rows above and with the header, still to pass
	table  bundle.Table
}

// plainSheet writes a grid as a CSV with one header line.
func plainSheet(ctx context.Context, table string, g *sheets.Grid, scratch string) (sh *Sheet, err error) {
	t, _ := bundle.Find(table)
	if g.Rows == 0 {
		return nil, Fault{Table: table, File: label(g.Info), Found: "an empty sheet", Remedy: "give it its column names, or take it out"}
	}
	at := headerOf(t, g)
	sh = &Sheet{Table: table, File: label(g.Info), Path: filepath.Join(scratch, table+".csv"), HeadLine: g.HeadLines[at]}
	sh.Header = append(sh.Header, g.Head[at]...)
	for n := len(sh.Header); n > 0 && sh.Header[n-1] == ""; n-- {
		sh.Header = sh.Header[:n-1]
	}
	out, err := os.OpenFile(sh.Path, os.O_CREATE|os.O_TRUNC|os.O_WRONLY, 0o600)
	if err != nil {
		return nil, err
	}
	sum, buf := sha256.New(), bufio.NewWriterSize(out, 1<<16)
	c := &gridCopy{sheet: sh, w: csv.NewWriter(io.MultiWriter(buf, sum)), header: int64(at) + 1, table: t}
	err = c.w.Write(sh.Header)
	if err == nil {
		err = g.Each(ctx, c.take)
	}
	c.w.Flush()
	err = errors.Join(err, c.w.Error(), buf.Flush(), out.Close())
	sh.SHA256 = hex.EncodeToString(sum.Sum(nil))
	return sh, asBadData(err)
}

// strayed reports a row above the column names that is no heading for people but a row
// of data, which a sort may bring there: under some column stands what that column
// holds, a number or a code.
func strayed(t bundle.Table, header, cells []string) bool {
	for i, cell := range cells[:min(len(cells), len(header))] {
		c, ok := t.Column(header[i])
		if cell = strings.TrimSpace(cell); !ok || cell == "" {
			continue
		}
		if _, err := strconv.ParseFloat(cell, 64); err == nil && (c.Kind == bundle.Int || c.Kind == bundle.Day || c.Kind == bundle.Length) || slices.Contains(c.Codes, cell) {
			return true
		}
	}
	return false
}

// take writes one row, or rejects one that goes beyond the header or strayed above it.
func (c *gridCopy) take(line int64, cells []string) error {
	sh := c.sheet
	if c.header > 0 {
		if c.header--; c.header > 0 && strayed(c.table, sh.Header, cells) {
			sh.Rejected = append(sh.Rejected, Fault{Table: sh.Table, File: sh.File, Line: line, Found: "a row of data above the column names",
				Remedy: "move it below them"})
			sh.RejectedText = append(sh.RejectedText, strings.Join(cells, ","))
		}
		return nil
	}
	for i := len(sh.Header); i < len(cells); i++ {
		if cells[i] != "" {
			sh.Rejected = append(sh.Rejected, Fault{Table: sh.Table, File: sh.File, Line: line, Found: fmt.Sprintf("something in column %d, where the header has %d", i+1, len(sh.Header)),
				Remedy: "move it under its column, or give the column a name"})
			sh.RejectedText = append(sh.RejectedText, strings.Join(cells, ","))
			return nil
		}
	}
	sh.shift(line)
	return c.w.Write(cells[:len(sh.Header)])
}

// shift counts a record that stands on the given line.
func (sh *Sheet) shift(line int64) {
	if off := line - sh.Records; len(sh.Shifts) == 0 || sh.Shifts[len(sh.Shifts)-1].Offset != off {
		sh.Shifts = append(sh.Shifts, Shift{sh.Records, off})
	}
	sh.Records++
}

// readNote reads bundle.toml of a folder or zip, or the sheet of that name.
func (s *shapes) readNote(ctx context.Context, exportPath string) error {
	for i, info := range s.book.Sheets() {
		if info.Sheet == blank.NoteSheet && info.Format == sheets.XLSX {
			return s.noteFromSheet(ctx, i)
		}
	}
	text, err := noteText(exportPath)
	if err != nil || text == nil {
		return err
	}
	return parseNote(noteFile, text, &s.note)
}

// noteText reads bundle.toml, nil where there is none.
func noteText(exportPath string) ([]byte, error) {
	const most = 1 << 16
	unreadable := func(err error) error {
		return Fault{File: noteFile, Found: "a file that cannot be read (" + err.Error() + ")", Remedy: "check its permissions"}
	}
	var in io.ReadCloser
	if info, err := os.Stat(exportPath); err == nil && info.IsDir() {
		f, err := os.Open(filepath.Join(exportPath, noteFile))
		if errors.Is(err, os.ErrNotExist) {
			return nil, nil
		}
		if err != nil {
			return nil, unreadable(err)
		}
		in = f
	} else {
		z, err := zip.OpenReader(exportPath)
		if err != nil {
			return nil, nil // no archive, so no file beside the tables
		}
		defer func() { _ = z.Close() }() // only read from
		for _, m := range z.File {
			if path.Base(m.Name) == noteFile && in == nil {
				if in, err = m.Open(); err != nil {
					return nil, unreadable(err)
				}
			}
		}
	}
	if in == nil {
		return nil, nil
	}
	defer func() { _ = in.Close() }() // only read from
	text, err := io.ReadAll(io.LimitReader(in, most))
	if err != nil {
		return nil, unreadable(err)
	}
	return text, nil
}

// noteFromSheet reads the note from two columns, key and value, as if it were the
// file: line for line, so that a mistake is reported with its row.
func (s *shapes) noteFromSheet(ctx context.Context, i int) error {
	g, err := s.book.Grid(ctx, i, sheets.Override{})
	if err != nil {
		return asBadData(err)
	}
	var b strings.Builder
	next := int64(1)
	err = g.Each(ctx, func(line int64, cells []string) error {
		if len(cells) < 2 || cells[1] == "" {
			return nil
		}
		for ; next < line; next++ {
			b.WriteByte('\n')
		}
		value := fmt.Sprintf("%q", cells[1])
		switch strings.ToLower(cells[1]) {
		case "yes", "true":
			value = "true"
		case "no", "false":
			value = "false"
		}
		if key := strings.ToLower(strings.TrimSpace(cells[0])); key != "key" {
			fmt.Fprintf(&b, "%s = %s", key, value)
		}
		return nil
	})
	if err != nil {
		return asBadData(err)
	}
	return parseNote(label(g.Info), []byte(b.String()), &s.note)
}
