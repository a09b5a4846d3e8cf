package sheets

import (
	"context"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
)

// stringTable keeps the shared strings of a workbook end to end.
type stringTable struct {
	text []byte
	ends []int
}

func (t *stringTable) at(i int) (string, bool) {
	if t == nil || i < 0 || i >= len(t.ends) {
		return "", false
	}
	from := 0
	if i > 0 {
		from = t.ends[i-1]
	}
	return string(t.text[from:t.ends[i]]), true
}

// readStrings reads the shared strings once.
func (wb *workbook) readStrings(ctx context.Context) error {
	if wb.strings != nil || wb.shared == "" {
		return nil
	}
	t := &stringTable{}
	err := wb.walkPart(ctx, wb.shared, func(d *xml.Decoder, el xml.StartElement) error {
		if el.Name.Local != "si" {
			return nil
		}
		s, err := richText(d.Token)
		if err != nil {
			return wb.partError(err, wb.shared)
		}
		t.text, t.ends = append(t.text, s...), append(t.ends, len(t.text)+len(s))
		if len(t.text)+8*len(t.ends) > maxStrings {
			return wb.fault("more than 256 MiB of text in one workbook", "export fewer years at a time")
		}
		return nil
	})
	if err == nil {
		wb.strings = t
	}
	return err
}

// richText joins the runs of a string up to the end of the element that was just
// opened. Phonetic guides (rPh) are no part of the text.
func richText(next func() (xml.Token, error)) (string, error) {
	var b strings.Builder
	depth, skip, inText := 1, 0, false
	for depth > 0 {
		tok, err := next()
		if err != nil {
			return "", unexpected(err)
		}
		switch el := tok.(type) {
		case xml.StartElement:
			depth++
			if el.Name.Local == "rPh" && skip == 0 {
				skip = depth
			}
			inText = el.Name.Local == "t" && skip == 0
		case xml.EndElement:
			if depth == skip {
				skip = 0
			}
			depth--
			inText = false
		case xml.CharData:
			if inText {
				if b.Len()+len(el) > maxRecord {
					return "", errors.New("a text of more than 1 MiB")
				}
				b.Write(el)
			}
		}
	}
	return unescape(b.String()), nil
}

// unexpected makes the end of the data an error.
func unexpected(err error) error {
	if errors.Is(err, io.EOF) {
		return io.ErrUnexpectedEOF
	}
	return err
}

// sheetReader reads one worksheet as a stream.
type sheetReader struct {
	wb    *workbook
	w     *gridWriter
	d     *xml.Decoder
	row   int64
	cells []string
	next  int // column of the next cell, if it does not say
	bytes int
	ended bool // the end of the rows was seen
}

func (wb *workbook) readSheet(ctx context.Context, part string, w *gridWriter) error {
	if err := wb.readStrings(ctx); err != nil {
		return err
	}
	r, err := wb.open(ctx, part)
	if err != nil {
		return err
	}
	defer r.Close()
	s := &sheetReader{wb: wb, w: w, d: xml.NewDecoder(r)}
	err = s.read()
	if err == nil && !s.ended {
		err = io.ErrUnexpectedEOF
	}
	var fault *Fault
	if err == nil || errors.As(err, &fault) {
		return err
	}
	if errors.Is(err, errTooBig) || errors.Is(err, context.Canceled) || errors.Is(err, context.DeadlineExceeded) {
		return named(err, wb.file.name)
	}
	return w.grid.fault(s.row, "a damaged sheet ("+err.Error()+")", "open the workbook in a spreadsheet program and save it again")
}

// read goes through the rows; what stands after them is not for us.
func (s *sheetReader) read() error {
	for {
		tok, err := s.d.RawToken()
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return err
		}
		switch el := tok.(type) {
		case xml.StartElement:
			switch el.Name.Local {
			case "row":
				err = s.startRow(el)
			case "c":
				err = s.cell(el)
			}
		case xml.EndElement:
			switch el.Name.Local {
			case "row":
				err = s.w.add(s.row, s.cells)
			case "sheetData":
				s.ended = true
				return nil
			}
		}
		if err != nil {
			return err
		}
	}
}

// startRow takes the number of a row: its own, or one more than the last.
func (s *sheetReader) startRow(el xml.StartElement) error {
	next := s.row + 1
	if r := attr(el, "r"); r != "" {
		n, err := strconv.ParseInt(r, 10, 32)
		if err != nil || n < next {
			return fmt.Errorf("the row number %q after row %d", r, s.row)
		}
		next = n
	}
	s.row, s.cells, s.next, s.bytes = next, s.cells[:0], 0, 0
	return nil
}

// column reads the letters of a cell's name; 0 is column A.
func column(ref string) (int, error) {
	n := 0
	for i := range len(ref) {
		c := ref[i]
		if c >= 'A' && c <= 'Z' {
			n = 26*n + int(c-'A') + 1
			if n > 1<<14 {
				break
			}
			continue
		}
		if n > 0 && c >= '0' && c <= '9' {
			return n - 1, nil
		}
		break
	}
	return 0, fmt.Errorf("the cell name %q", ref)
}

// cell reads one cell into its place.
func (s *sheetReader) cell(el xml.StartElement) error {
	at := s.next
	if ref := attr(el, "r"); ref != "" {
		var err error
		if at, err = column(ref); err != nil {
			return err
		}
		if at < s.next {
			return fmt.Errorf("the cell %s after column %d", ref, s.next)
		}
	}
	s.next = at + 1
	c, err := s.content()
	if err != nil {
		return err
	}
	text, err := s.text(attr(el, "t"), attr(el, "s"), c)
	if err != nil {
		return err
	}
	if text == "" {
		return nil // a cell that only has a style
	}
	if s.bytes += len(text); s.bytes > maxRecord {
		return errors.New("a row of more than 1 MiB")
	}
	if at >= maxColumns {
		return s.w.grid.fault(s.row, fmt.Sprintf("something in column %d", at+1), fmt.Sprintf("keep tables within %d columns", maxColumns))
	}
	for len(s.cells) < at {
		s.cells = append(s.cells, "")
	}
	s.cells = append(s.cells, text)
	return nil
}

// content is what a cell holds before its type is known.
type content struct {
	value, inline string
	hasValue      bool
	formula       bool
}

// content reads up to the cell's end.
func (s *sheetReader) content() (c content, err error) {
	in := ""
	for {
		tok, err := s.d.RawToken()
		if err != nil {
			return c, unexpected(err)
		}
		switch el := tok.(type) {
		case xml.StartElement:
			in = el.Name.Local
			switch in {
			case "v":
				c.hasValue = true
			case "f":
				c.formula = true
			case "is":
				if c.inline, err = richText(s.d.RawToken); err != nil {
					return c, err
				}
			}
		case xml.EndElement:
			if el.Name.Local == "c" {
				return c, nil
			}
			in = ""
		case xml.CharData:
			if in == "v" {
				if len(c.value)+len(el) > maxRecord {
					return c, errors.New("a text of more than 1 MiB")
				}
				c.value += string(el)
			}
		}
	}
}

// text writes a cell's content by its type (ECMA-376 part 1, 18.18.11) and style.
func (s *sheetReader) text(kind, style string, c content) (string, error) {
	if c.formula && !c.hasValue && kind != "inlineStr" {
		return "", s.w.grid.fault(s.row, "a formula without its value", "open the workbook in a spreadsheet program and save it again")
	}
	switch kind {
	case "inlineStr":
		return c.inline, nil
	case "s":
		if !c.hasValue {
			return "", nil
		}
		i, err := strconv.Atoi(c.value)
		text, ok := s.wb.strings.at(i)
		if err != nil || !ok {
			return "", fmt.Errorf("the shared text %q, which is not there", c.value)
		}
		return text, nil
	case "str", "e":
		return unescape(c.value), nil
	case "b":
		return truth(c.value)
	case "d":
		return strings.TrimSuffix(strings.Replace(c.value, "T", " ", 1), " 00:00:00"), nil
	case "", "n":
		return s.number(style, c.value)
	}
	return "", fmt.Errorf("a cell of type %q", kind)
}

func truth(value string) (string, error) {
	switch strings.TrimSpace(value) {
	case "1", "true":
		return "true", nil
	case "0", "false":
		return "false", nil
	case "":
		return "", nil
	}
	return "", fmt.Errorf("the boolean %q", value)
}

func (s *sheetReader) number(style, value string) (string, error) {
	value = strings.TrimSpace(value)
	if value == "" {
		return "", nil
	}
	x, err := strconv.ParseFloat(value, 64)
	if err != nil || math.IsInf(x, 0) || math.IsNaN(x) {
		return "", fmt.Errorf("the number %q", value)
	}
	if i, err := strconv.Atoi(style); err == nil && i >= 0 && i < len(s.wb.dates) && s.wb.dates[i] {
		if day, ok := dateText(x, s.wb.date04); ok {
			return day, nil
		}
	}
	return numberText(x), nil
}
