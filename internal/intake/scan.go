package intake

import (
	"bufio"
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"hash"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"unicode/utf8"

	"afterfit/internal/privacy"
	"afterfit/internal/sheets"
)

// maxRecord bounds a record in bytes. Real records have some hundred; a longer
// one is an unclosed quote or a document pasted into a cell.
const maxRecord = 1 << 20

// scanner looks a CSV file through once, before DuckDB does, because DuckDB maps
// columns by position, guesses, and cannot say which line it left out. It goes through the
// file piece by piece, so that a file may have any size.
type scanner struct {
	file, path string // as messages name it, and where it is
	table      string
	seen       os.FileInfo // before it was read
	piece      int         // bytes that are read at a time; 0 = pieceSize
	mark       int         // bytes of the byte order mark
	size       int64       // behind the mark
	sum        hash.Hash   // of what stands behind the mark
	data       []byte      // the piece under look
	base       int64       // where it begins, behind the mark
	line       int64       // and on which line
	checked    int         // bytes of it that are known to be text
	header     []string
	headLine   int64
	records    int64
	shifts     []Shift
	rejected   []Fault
	texts      []string // of the records rejected
	drop       []span   // what a rewritten copy leaves out
	crlf, lf   bool     // line ends seen outside quotes
}

// span is a stretch of the file behind the mark, from the first byte to before the last.
type span struct{ from, to int64 }

// pieceSize is how many bytes are read at a time.
const pieceSize = 8 << 20

const byteOrderMark = "\ufeff"

func (s *scanner) fault(line int64, column, found, remedy string) Fault {
	return Fault{Table: s.table, File: s.file, Line: line, Column: privacy.SafeHeader(column), Found: found, Remedy: remedy}
}

// scan fills the scanner, or returns the Fault that makes the file unreadable. Any other
// error is one of reading.
func (s *scanner) scan(ctx context.Context, in io.Reader) error {
	if s.piece == 0 {
		s.piece = pieceSize
	}
	s.sum, s.line = sha256.New(), 1
	for first, end := true, false; !end; first = false {
		if err := ctx.Err(); err != nil {
			return err
		}
		var err error
		if end, err = s.more(in); err != nil {
			return err
		}
		if first {
			if err := s.begin(); err != nil {
				return err
			}
		}
		if err := s.checkText(end); err != nil {
			return err
		}
		if err := s.cut(end); err != nil {
			return err
		}
	}
	if s.header == nil {
		return s.fault(0, "", "an empty file", "export the table again; a table without rows still has its header line")
	}
	return nil
}

// more reads on behind what is left of the piece; end reports the end of the file.
func (s *scanner) more(in io.Reader) (end bool, err error) {
	left := len(s.data)
	s.data = append(s.data, make([]byte, s.piece)...)
	n, err := io.ReadFull(in, s.data[left:])
	s.data = s.data[:left+n]
	end = errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF)
	if err != nil && !end {
		return false, err
	}
	if left == 0 && s.base == 0 && bytes.HasPrefix(s.data, []byte(byteOrderMark)) {
		s.mark, s.data = len(byteOrderMark), s.data[len(byteOrderMark):]
	}
	fresh := s.data[left:]
	s.size += int64(len(fresh))
	_, _ = s.sum.Write(fresh) // a hash takes everything
	return end, nil
}

// cut cuts the records of the piece and leaves the one that goes on behind it.
func (s *scanner) cut(end bool) error {
	pos := 0
	for pos < len(s.data) {
		r := sheets.Cut(s.data, pos, ',')
		if !r.Ended && !end && r.To-r.From < 16*maxRecord {
			break
		}
		s.crlf, s.lf = s.crlf || r.Return, s.lf || r.Ended && !r.Return
		if err := s.take(r, s.line); err != nil {
			return err
		}
		pos, s.line = r.Next, s.line+r.Lines
	}
	s.data = s.data[:copy(s.data, s.data[pos:])]
	s.base, s.checked = s.base+int64(pos), max(s.checked-pos, 0)
	return nil
}

// signatures of files that people drop into a folder by mistake.
var signatures = []struct{ start, is string }{
	{"PK\x03\x04", "a workbook or zip archive"}, {"%PDF", "a PDF"}, {"\xd0\xcf\x11\xe0", "an old workbook"},
	{"\xff\xfe", "UTF-16 text"}, {"\xfe\xff", "UTF-16 text"}, {"\x1f\x8b", "a gzip archive"}, {"PAR1", "a Parquet file"},
}

// begin refuses what is no text at first sight.
func (s *scanner) begin() error {
	for _, sig := range signatures {
		if bytes.HasPrefix(s.data, []byte(sig.start)) {
			return s.fault(0, "", sig.is+", no UTF-8 text", "save the table as CSV (UTF-8, comma)")
		}
	}
	return nil
}

// checkText refuses what is no UTF-8 text in the rest of the piece. A letter may go on in
// the next one.
func (s *scanner) checkText(end bool) error {
	rest := s.data[s.checked:]
	if i := bytes.IndexByte(rest, 0); i >= 0 {
		if bytes.Count(rest, []byte{0}) > len(rest)/100+1 {
			return s.fault(0, "", "binary content, no text", "save the table as CSV (UTF-8, comma)")
		}
		return s.fault(s.lineAt(s.checked+i), "", "a NUL byte", "export the table again; the file is damaged")
	}
	if utf8.Valid(rest) {
		s.checked = len(s.data)
		return nil
	}
	i := 0
	for i < len(rest) {
		r, n := utf8.DecodeRune(rest[i:])
		if r == utf8.RuneError && n == 1 {
			break
		}
		i += n
	}
	if !end && !utf8.FullRune(rest[i:]) {
		s.checked += i
		return nil
	}
	return s.fault(s.lineAt(s.checked+i), "", fmt.Sprintf("the byte 0x%02X, which is no UTF-8", rest[i]), "save the table as UTF-8 (it may be Latin-1 or Windows-1252 now)")
}

// lineAt is the line of a byte of the piece.
func (s *scanner) lineAt(offset int) int64 {
	return s.line + int64(bytes.Count(s.data[:offset], []byte{'\n'}))
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

func (s *scanner) leaveOut(r sheets.Record) {
	s.drop = append(s.drop, span{s.base + int64(r.From), s.base + int64(r.Next)})
}

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
	sh := &Sheet{Table: s.table, File: s.file, Path: s.path, Header: s.header, HeadLine: s.headLine,
		Records: s.records, Shifts: s.shifts, Rejected: s.rejected, RejectedText: s.texts, Seen: s.seen, SeenAt: s.path, SHA256: hex.EncodeToString(s.sum.Sum(nil))}
	whole := s.seen.Size() == s.size
	mixed := s.crlf && s.lf
	if len(s.drop) == 0 && whole && !mixed && !strings.ContainsAny(s.path, "*?[]{}") {
		return sh, nil
	}
	sh.Path = filepath.Join(scratch, s.table+".csv")
	out, err := os.OpenFile(sh.Path, os.O_CREATE|os.O_TRUNC|os.O_WRONLY, 0o600)
	if err != nil {
		return nil, err
	}
	in, err := os.Open(s.path)
	if err != nil {
		return nil, errors.Join(err, out.Close())
	}
	w := bufio.NewWriterSize(out, 1<<18)
	err = s.canonical(in, w)
	return sh, errors.Join(err, w.Flush(), out.Close(), in.Close())
}

// canonical copies the file without what was dropped and with one kind of line end. A
// file that has become shorter meanwhile gives a shorter copy: whoever reads it finds
// that the file has changed.
func (s *scanner) canonical(in io.ReadSeeker, out io.Writer) error {
	if s.crlf && s.lf {
		out = &lineEnds{out: out}
	}
	pos := int64(0)
	for _, d := range append(slices.Clip(s.drop), span{s.size, s.size}) {
		if _, err := in.Seek(int64(s.mark)+pos, io.SeekStart); err != nil {
			return err
		}
		if _, err := io.CopyN(out, in, d.from-pos); err != nil && !errors.Is(err, io.EOF) {
			return err
		}
		pos = d.to
	}
	return nil
}

// lineEnds writes a text with line feeds alone in place of carriage returns with one. A
// return at the very end is left out, too.
type lineEnds struct {
	out    io.Writer
	held   bool // a return that came last
	joined []byte
}

func (w *lineEnds) Write(text []byte) (int, error) {
	w.joined = w.joined[:0]
	for _, b := range text {
		if w.held && b != '\n' {
			w.joined = append(w.joined, '\r')
		}
		if w.held = b == '\r'; !w.held {
			w.joined = append(w.joined, b)
		}
	}
	_, err := w.out.Write(w.joined)
	return len(text), err
}
