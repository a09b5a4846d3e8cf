package sheets

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"unicode/utf8"
)

// addText takes a file as delimited text and sniffs how.
func (b *Book) addText(ctx context.Context, f *file) error {
	info := Info{File: f.name, Format: CSV}
	var err error
	if info.Encoding, err = sniffEncoding(ctx, f.path, info); err != nil {
		return err
	}
	head, err := textHead(f.path, info.Encoding)
	if err != nil {
		return err
	}
	if len(bytes.TrimSpace(head)) == 0 {
		return info.fault(0, "an empty file", "export the table again; a table without rows still has its header line")
	}
	info.Delimiter = sniffDelimiter(head)
	b.sources = append(b.sources, source{info: info, from: f, read: func(ctx context.Context, as Override, w *gridWriter) error {
		return readText(ctx, f.path, as, w)
	}})
	return nil
}

// textHead decodes the beginning of a file.
func textHead(path, name string) ([]byte, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	r, err := decode(f, name)
	if err != nil {
		return nil, err
	}
	head, err := io.ReadAll(io.LimitReader(r, sampleAt))
	head, _ = wholeRunes(head)
	return head, err
}

// returnsOnly reports text whose lines end in a carriage return alone.
func returnsOnly(head []byte) bool {
	return bytes.IndexByte(head, '\r') >= 0 && bytes.IndexByte(head, '\n') < 0
}

// sampleRecords is how many records the delimiter is told from.
const sampleRecords = 100

// delimiters in the order in which they win a tie: the comma also stands inside
// numbers and sentences, the others seldom do.
var delimiters = []byte{';', '\t', '|', ','}

// sniffDelimiter tells the delimiter by this rule: of the first 100 records that are
// not blank, count for each candidate those with its most frequent number of cells,
// two or more. The candidate with the highest count wins, then the one with more
// cells, then the order of delimiters. 0 (one column) where no candidate reaches a
// quarter of the records.
func sniffDelimiter(head []byte) rune {
	if returnsOnly(head) {
		head = bytes.ReplaceAll(head, []byte{'\r'}, []byte{'\n'})
	}
	best, bestRecords, bestCells := rune(0), 0, 0
	for _, d := range delimiters {
		seen, total := map[int]int{}, 0
		for at := 0; at < len(head) && total < sampleRecords; {
			r := Cut(head, at, d)
			if at = r.Next; !r.Ended && total > 0 && len(head) >= sampleAt/2 {
				break // the sample cuts it
			}
			if len(bytes.TrimSpace(head[r.From:r.To])) > 0 {
				total++
				seen[r.Cells]++
			}
		}
		records, cells := 0, 0
		for n, count := range seen {
			if n >= 2 && (count > records || count == records && n > cells) {
				records, cells = count, n
			}
		}
		if 4*records >= total && records > 0 && (records > bestRecords || records == bestRecords && cells > bestCells) {
			best, bestRecords, bestCells = rune(d), records, cells
		}
	}
	return best
}

// returns turns carriage returns into line feeds.
type returns struct{ io.Reader }

func (r returns) Read(p []byte) (int, error) {
	n, err := r.Reader.Read(p)
	for i := range p[:n] {
		if p[i] == '\r' {
			p[i] = '\n'
		}
	}
	return n, err
}

// readText writes a delimited text into a grid.
func readText(ctx context.Context, path string, as Override, w *gridWriter) error {
	info := &w.grid.Info
	forced := as.Encoding != ""
	if forced {
		info.Encoding = as.Encoding
	}
	if _, ok := decoders[info.Encoding]; !ok {
		return info.fault(0, fmt.Sprintf("no encoding called %q", info.Encoding), fmt.Sprintf("use one of %v", Encodings()))
	}
	if forced && info.Encoding == UTF8 {
		if c, err := count(ctx, path); err != nil || c.broken > 0 {
			return errors.Join(err, c.fault(*info))
		}
	}
	head, err := textHead(path, info.Encoding)
	if err != nil {
		return err
	}
	switch {
	case as.Delimiter != 0:
		info.Delimiter = as.Delimiter
	case forced:
		info.Delimiter = sniffDelimiter(head)
	}
	if d := info.Delimiter; d >= utf8.RuneSelf || d == '"' || d == '\n' || d == '\r' {
		return info.fault(0, fmt.Sprintf("the delimiter %q", d), "use a comma, a semicolon, a tab or a bar")
	}
	f, err := os.Open(path)
	if err != nil {
		return err
	}
	defer f.Close()
	r, err := decode(f, info.Encoding)
	if err != nil {
		return err
	}
	if returnsOnly(head) {
		r = returns{r}
	}
	c := &cutter{info: info, r: r, delim: byte(info.Delimiter), line: 1}
	return c.all(ctx, w)
}

// cutter cuts a stream into records; it holds no more than the longest of them.
type cutter struct {
	info  *Info
	r     io.Reader
	delim byte
	buf   []byte // data not yet cut
	at    int
	end   bool // r is spent
	line  int64
}

func (c *cutter) all(ctx context.Context, w *gridWriter) error {
	var cells []string
	for n := 0; ; n++ {
		if err := ctx.Err(); n%1024 == 0 && err != nil {
			return err
		}
		text, line, err := c.next()
		if err != nil || text == nil {
			return err
		}
		if err := c.sound(text, line); err != nil {
			return err
		}
		cells = cells[:0]
		if len(bytes.TrimSpace(text)) > 0 || c.delim != 0 && bytes.IndexByte(text, c.delim) >= 0 {
			cells = split(text, c.delim, cells)
		}
		if err := w.add(line, cells); err != nil {
			return err
		}
	}
}

// next returns the next record and its line; nil at the end.
func (c *cutter) next() ([]byte, int64, error) {
	for {
		if c.at == len(c.buf) && c.end {
			return nil, 0, nil
		}
		r := Cut(c.buf, c.at, c.delim)
		if r.Ended || c.end {
			if r.Fault == Unclosed || r.Fault == AfterQuote {
				return nil, 0, c.info.fault(c.line, r.Fault, `close the quote; a quote inside a quoted cell is written twice ("")`)
			}
			if r.To-r.From > maxRecord {
				return nil, 0, c.tooLong()
			}
			line := c.line
			c.at, c.line = r.Next, c.line+r.Lines
			return c.buf[r.From:r.To:r.To], line, nil
		}
		if len(c.buf)-c.at > maxRecord {
			return nil, 0, c.tooLong()
		}
		if err := c.more(); err != nil {
			return nil, 0, err
		}
	}
}

func (c *cutter) tooLong() error {
	return c.info.fault(c.line, "a record of more than 1 MiB", "look for a quote that is not closed, or shorten the cell")
}

// more drops what was cut and reads on, each time about as much as is held, so that
// a long record is not walked over and over.
func (c *cutter) more() error {
	c.buf = append(c.buf[:0], c.buf[c.at:]...)
	c.at = 0
	old := len(c.buf)
	c.buf = append(c.buf, make([]byte, max(1<<16, old))...)
	n, err := io.ReadFull(c.r, c.buf[old:])
	c.buf = c.buf[:old+n]
	if errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) {
		c.end, err = true, nil
	}
	return err
}

// sound refuses what no text holds: NUL, and what a decoder could not decode.
func (c *cutter) sound(text []byte, line int64) error {
	if bytes.IndexByte(text, 0) >= 0 {
		return c.info.fault(line, "a NUL byte, which no text has", "export the table again; the file is damaged or no text")
	}
	if c.info.Encoding != UTF8 && bytes.ContainsRune(text, utf8.RuneError) {
		return c.info.fault(line, "bytes that are no "+c.info.Encoding, "export the table again, or name its encoding")
	}
	return nil
}
