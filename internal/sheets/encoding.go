package sheets

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"unicode/utf8"

	"golang.org/x/text/encoding"
	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"
	"golang.org/x/text/transform"
)

// The encodings that are told apart by looking.
const (
	UTF8        = "utf-8"
	UTF16LE     = "utf-16le"
	UTF16BE     = "utf-16be"
	Latin1      = "latin-1"
	Windows1252 = "windows-1252"
)

const (
	bomUTF8  = "\xef\xbb\xbf"
	bomLE    = "\xff\xfe"
	bomBE    = "\xfe\xff"
	sampleAt = 1 << 16 // bytes that are looked at before a file is read whole
)

// decoders of every encoding that an Override may name. Latin-1 and Windows-1252
// differ only in 0x80 to 0x9F, where no text has Latin-1's control characters.
var decoders = map[string]encoding.Encoding{
	UTF8: unicode.UTF8BOM, UTF16LE: unicode.UTF16(unicode.LittleEndian, unicode.UseBOM), UTF16BE: unicode.UTF16(unicode.BigEndian, unicode.UseBOM),
	Latin1: charmap.ISO8859_1, Windows1252: charmap.Windows1252,
	"latin-2": charmap.ISO8859_2, "latin-9": charmap.ISO8859_15, "windows-1250": charmap.Windows1250,
	"cp437": charmap.CodePage437, "cp850": charmap.CodePage850, "mac-roman": charmap.Macintosh,
}

// Encodings lists the names that an Override takes, sorted.
func Encodings() []string {
	var names []string
	for name := range decoders {
		names = append(names, name)
	}
	slices.Sort(names)
	return names
}

// census is what one pass over a file's bytes counts.
type census struct {
	letters   int64 // well-formed UTF-8 sequences of two bytes or more
	broken    int64 // bytes that are no UTF-8
	firstBad  int64 // line of the first of these
	badByte   byte
	c1        int64 // bytes 0x80 to 0x9F among the broken ones
	undefined int64 // of these, the five that Windows-1252 does not define
}

// sniffEncoding tells a text's encoding by this rule. A byte order mark decides.
// Without one, text whose every other byte is mostly zero is UTF-16. Text that is
// well-formed UTF-8 to its last byte is UTF-8. Where broken bytes are rarer than
// well-formed sequences it is damaged UTF-8 and refused. Everything else is
// Windows-1252 if it has bytes from 0x80 to 0x9F, and Latin-1 if it has none.
func sniffEncoding(ctx context.Context, path string, info Info) (string, error) {
	head, err := start(path, sampleAt)
	if err != nil {
		return "", err
	}
	if name := markOf(head); name != "" && name != UTF8 {
		return name, nil
	}
	if i := bytes.IndexByte(head, 0); i >= 0 {
		return "", info.fault(int64(bytes.Count(head[:i], []byte{'\n'}))+1, "a NUL byte, which no text has", "export the table again; the file is damaged or no text")
	}
	c, err := count(ctx, path)
	if err != nil {
		return "", err
	}
	switch {
	case c.broken == 0:
		return UTF8, nil
	case c.letters > c.broken || bytes.HasPrefix(head, []byte(bomUTF8)):
		return "", c.fault(info)
	case c.undefined > 0:
		return "", info.fault(c.firstBad, fmt.Sprintf("the byte 0x%02X, which is neither UTF-8 nor Windows-1252", c.badByte), "save the table as UTF-8, or name its encoding")
	case c.c1 > 0:
		return Windows1252, nil
	}
	return Latin1, nil
}

func (c census) fault(info Info) error {
	return info.fault(c.firstBad, fmt.Sprintf("the byte 0x%02X, which is no UTF-8", c.badByte), "save the table as UTF-8 again; the file is damaged or mixes encodings")
}

// markOf tells the encoding from a byte order mark or from the zeros of UTF-16, ""
// where neither shows.
func markOf(head []byte) string {
	switch {
	case bytes.HasPrefix(head, []byte(bomUTF8)):
		return UTF8
	case bytes.HasPrefix(head, []byte(bomLE)):
		return UTF16LE
	case bytes.HasPrefix(head, []byte(bomBE)):
		return UTF16BE
	}
	var zeros [2]int
	for i, b := range head {
		if b == 0 {
			zeros[i%2]++
		}
	}
	half := len(head) / 2
	switch {
	case half > 0 && zeros[1] > half/2 && zeros[0] < half/8:
		return UTF16LE
	case half > 0 && zeros[0] > half/2 && zeros[1] < half/8:
		return UTF16BE
	}
	return ""
}

// count passes once over a file.
func count(ctx context.Context, path string) (census, error) {
	var c census
	f, err := os.Open(path)
	if err != nil {
		return c, err
	}
	defer f.Close()
	buf, line := make([]byte, 0, 1<<18), int64(1)
	for {
		if err := ctx.Err(); err != nil {
			return c, err
		}
		n, err := f.Read(buf[len(buf):cap(buf)])
		buf = buf[:len(buf)+n]
		done := errors.Is(err, io.EOF)
		if err != nil && !done {
			return c, err
		}
		rest := c.take(buf, &line, done)
		buf = buf[:copy(buf, rest)]
		if done {
			return c, nil
		}
	}
}

// take counts a stretch of bytes and returns the beginning of a sequence that the
// next stretch completes.
func (c *census) take(b []byte, line *int64, last bool) []byte {
	var rest []byte
	if !last {
		b, rest = wholeRunes(b)
	}
	for i := 0; i < len(b); {
		if b[i] < utf8.RuneSelf {
			if b[i] == '\n' {
				*line++
			}
			i++
			continue
		}
		r, n := utf8.DecodeRune(b[i:])
		if r == utf8.RuneError && n == 1 {
			c.bad(b[i], *line)
		} else {
			c.letters++
		}
		i += n
	}
	return rest
}

// wholeRunes cuts off the beginning of a letter at the end of b.
func wholeRunes(b []byte) (whole, rest []byte) {
	for i := 1; i < utf8.UTFMax && i <= len(b); i++ {
		if tail := b[len(b)-i:]; utf8.RuneStart(tail[0]) {
			if !utf8.FullRune(tail) {
				return b[:len(b)-i], tail
			}
			break
		}
	}
	return b, nil
}

func (c *census) bad(b byte, line int64) {
	if c.broken == 0 {
		c.firstBad, c.badByte = line, b
	}
	c.broken++
	if b < 0xa0 {
		c.c1++
	}
	if b == 0x81 || b == 0x8d || b == 0x8f || b == 0x90 || b == 0x9d {
		c.undefined++
	}
}

// decode reads a text as UTF-8, whatever it is in.
func decode(r io.Reader, name string) (io.Reader, error) {
	enc, ok := decoders[name]
	if !ok {
		return nil, fmt.Errorf("no encoding is called %q: use one of %v", name, Encodings())
	}
	return transform.NewReader(r, enc.NewDecoder()), nil
}
