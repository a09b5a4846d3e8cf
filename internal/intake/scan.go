package intake

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"unicode/utf8"

	"afterfit/internal/privacy"
	"afterfit/internal/sheets"
)

// maxRecord bounds a record in bytes. Real records have some hundred; a longer
// one is an unclosed quote or a document pasted into a cell.
const maxRecord = 1 << 20

// scanner looks a CSV file through once, before DuckDB does, because DuckDB maps
// columns by position, guesses, and cannot say which line it left out.
type scanner struct {
	file, path string // as messages name it, and where it is
	table      string
	seen       os.FileInfo // before it was read
	data       []byte      // after the byte order mark
	header     []string
	headLine   int64
	records    int64
	shifts     []Shift
	rejected   []Fault
	texts      []string // of the records rejected
	drop       []span   // what a rewritten copy leaves out
	crlf, lf   bool     // line ends seen outside quotes
}

// span is a stretch of data, from the first byte to before the last.
type span struct{ from, to int }

func (s *scanner) fault(line int64, column, found, remedy string) Fault {
	return Fault{Table: s.table, File: s.file, Line: line, Column: privacy.SafeHeader(column), Found: found, Remedy: remedy}
}

// scan fills the scanner, or returns the Fault that makes the file unreadable.
func (s *scanner) scan() error {
	if err := s.checkText(); err != nil {
		return err
	}
	s.data = bytes.TrimPrefix(s.data, []byte("\ufeff"))
	if len(bytes.TrimSpace(s.data)) == 0 {
		return s.fault(0, "", "an empty file", "export the table again; a table without rows still has its header line")
	}
	line := int64(1)
	for pos := 0; pos < len(s.data); {
		r := sheets.Cut(s.data, pos, ',')
		s.crlf, s.lf = s.crlf || r.Return, s.lf || r.Ended && !r.Return
		if err := s.take(r, line); err != nil {
			return err
		}
		pos, line = r.Next, line+r.Lines
	}
	return nil
}

// signatures of files that people drop into a folder by mistake.
var signatures = []struct{ start, is string }{
	{"PK\x03\x04", "a workbook or zip archive"}, {"%PDF", "a PDF"}, {"\xd0\xcf\x11\xe0", "an old workbook"},
	{"\xff\xfe", "UTF-16 text"}, {"\xfe\xff", "UTF-16 text"}, {"\x1f\x8b", "a gzip archive"}, {"PAR1", "a Parquet file"},
}

// checkText refuses what is no UTF-8 text.
func (s *scanner) checkText() error {
	for _, sig := range signatures {
		if bytes.HasPrefix(s.data, []byte(sig.start)) {
			return s.fault(0, "", sig.is+", no UTF-8 text", "save the table as CSV (UTF-8, comma)")
		}
	}
	if i := bytes.IndexByte(s.data, 0); i >= 0 {
		if bytes.Count(s.data, []byte{0}) > len(s.data)/100+1 {
			return s.fault(0, "", "binary content, no text", "save the table as CSV (UTF-8, comma)")
		}
		return s.fault(s.lineAt(i), "", "a NUL byte", "export the table again; the file is damaged")
	}
	if !utf8.Valid(s.data) {
		i := 0
		for i < len(s.data) {
			r, n := utf8.DecodeRune(s.data[i:])
			if r == utf8.RuneError && n == 1 {
				break
			}
			i += n
		}
		return s.fault(s.lineAt(i), "", fmt.Sprintf("the byte 0x%02X, which is no UTF-8", s.data[i]), "save the table as UTF-8 (it may be Latin-1 or Windows-1252 now)")
	}
	return nil
}

func (s *scanner) lineAt(offset int) int64 {
	return int64(bytes.Count(s.data[:offset], []byte{'\n'})) + 1
}

// take judges a record: the header, a good record, one to set aside, or a fault
// after which nothing in the file can be trusted.
func (s *scanner) take(r sheets.Record, line int64) error {
	text := s.data[r.From:r.To]
	switch {
	case r.Fault == sheets.Unclosed || r.Fault != "" && r.Lines > 1:
		return s.fault(line, s.columnOf(r), "an unterminated quote", `close the quote; a quote inside a quoted cell is written twice ("")`)
	case len(text) > maxRecord:
		return s.fault(line, s.longest(text), fmt.Sprintf("a cell that makes the record %d bytes long", len(text)), "shorten the cell; codes and numbers need some ten characters")
	case len(bytes.TrimSpace(text)) == 0:
		s.leaveOut(r) // a blank line is no row
	case s.header == nil:
		return s.takeHeader(r, line)
	case r.Fault != "":
		s.reject(r, line, r.Fault, `quote the whole cell and write a quote inside it twice ("")`)
	case r.Cells != len(s.header) && r.Lines > 1:
		return s.fault(line, "", "an unterminated quote", `close the quote; a quote inside a quoted cell is written twice ("")`)
	case r.Cells != len(s.header):
		s.reject(r, line, fmt.Sprintf("%d cells where the header has %d", r.Cells, len(s.header)), "give the row one cell per column; quote cells that hold a comma")
	default:
		if off := line - s.records; len(s.shifts) == 0 || s.shifts[len(s.shifts)-1].Offset != off {
			s.shifts = append(s.shifts, Shift{s.records, off})
		}
		s.records++
	}
	return nil
}

// columnOf names the column of a record's last cell, as far as it is known.
func (s *scanner) columnOf(r sheets.Record) string {
	if r.Cells >= 1 && r.Cells <= len(s.header) {
		return s.header[r.Cells-1]
	}
	return ""
}

func (s *scanner) reject(r sheets.Record, line int64, found, remedy string) {
	s.rejected = append(s.rejected, s.fault(line, "", found, remedy))
	s.texts = append(s.texts, string(s.data[r.From:r.To]))
	s.leaveOut(r)
}

func (s *scanner) leaveOut(r sheets.Record) { s.drop = append(s.drop, span{r.From, r.Next}) }

func (s *scanner) takeHeader(r sheets.Record, line int64) error {
	text := string(s.data[r.From:r.To])
	if r.Fault != "" {
		return s.fault(line, "", r.Fault+" in the header", "write the column names without quotes")
	}
	for _, sep := range []string{";", "\t"} {
		if r.Cells == 1 && strings.Contains(text, sep) {
			return s.fault(line, "", fmt.Sprintf("columns separated by %q", sep), "save the table with commas between the columns")
		}
	}
	for _, name := range strings.Split(text, ",") {
		if len(name) >= 2 && name[0] == '"' {
			name = strings.ReplaceAll(name[1:len(name)-1], `""`, `"`)
		}
		s.header = append(s.header, name)
	}
	s.headLine = line
	return nil
}

// longest names the column of the longest cell of a record without quotes.
func (s *scanner) longest(text []byte) string {
	best, at := -1, 0
	for i, cell := range bytes.Split(text, []byte{','}) {
		if len(cell) > best {
			best, at = len(cell), i
		}
	}
	if at < len(s.header) {
		return s.header[at]
	}
	return ""
}

// sheet hands the file itself to DuckDB where that is safe, else a copy in scratch.
func (s *scanner) sheet(scratch string) (*Sheet, error) {
	sum := sha256.Sum256(s.data)
	sh := &Sheet{Table: s.table, File: s.file, Path: s.path, Header: s.header, HeadLine: s.headLine,
		Records: s.records, Shifts: s.shifts, Rejected: s.rejected, RejectedText: s.texts, Seen: s.seen, SeenAt: s.path, SHA256: hex.EncodeToString(sum[:])}
	bom := s.seen.Size() != int64(len(s.data))
	mixed := s.crlf && s.lf
	if len(s.drop) == 0 && !bom && !mixed && !strings.ContainsAny(s.path, "*?[]{}") {
		return sh, nil
	}
	sh.Path = filepath.Join(scratch, s.table+".csv")
	return sh, os.WriteFile(sh.Path, s.canonical(), 0o600)
}

// canonical is the data without what was dropped and with one kind of line end.
func (s *scanner) canonical() []byte {
	out := make([]byte, 0, len(s.data))
	pos := 0
	for _, d := range s.drop {
		out = append(out, s.data[pos:d.from]...)
		pos = d.to
	}
	out = append(out, s.data[pos:]...)
	if s.crlf && s.lf {
		out = bytes.ReplaceAll(out, []byte("\r\n"), []byte("\n"))
	}
	return out
}
