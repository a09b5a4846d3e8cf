package sheets

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"strconv"
	"strings"
)

// maxDepth bounds how deep objects may nest.
const maxDepth = 16

// jsonSheet is a list of objects: the lines themselves, or a list inside them.
type jsonSheet struct {
	path    string
	columns []string
	at      map[string]int
}

func (s *jsonSheet) column(name string) int {
	i, ok := s.at[name]
	if !ok {
		i = len(s.columns)
		s.at[name] = i
		s.columns = append(s.columns, name)
	}
	return i
}

// header names the columns, keys of parents by their plain names where these are free.
func (s *jsonSheet) header() []string {
	names := append([]string(nil), s.columns...)
	for i, name := range names {
		short := name
		for strings.HasPrefix(short, above) {
			short = strings.TrimPrefix(short, above)
		}
		if _, taken := s.at[short]; !taken && !slices.Contains(names, short) {
			names[i] = short
		}
	}
	return names
}

// above leads the names of keys that come from the object above.
const above = "parent."

// jsonReader flattens objects. Nested objects become columns with dotted names,
// lists of plain values one cell joined by |, lists of objects a sheet of their own
// named by their path. A row of such a sheet starts with the first plain field of
// every object above it, which is taken for its key; its name is led by "parent."
// once a level where the sheet has a column of the plain name itself.
type jsonReader struct {
	info   Info
	sheets []*jsonSheet
	byPath map[string]*jsonSheet
	emit   func(s *jsonSheet, line int64, cells []cellAt) error
}

type cellAt struct {
	column string
	text   string
}

// member is one field of an object, in the order of the file.
type member struct {
	name  string
	value any // string, bool, json.Number, nil, []any or []member
}

// addJSON reads a file once to learn its sheets and columns.
func (b *Book) addJSON(ctx context.Context, f *file) error {
	shape := &jsonReader{info: Info{File: f.name, Format: NDJSON}, byPath: map[string]*jsonSheet{}}
	shape.emit = func(s *jsonSheet, line int64, cells []cellAt) error {
		for _, c := range cells {
			s.column(c.column)
		}
		if len(s.columns) > maxColumns {
			return shape.info.fault(line, fmt.Sprintf("more than %d different fields", maxColumns), "export a list of rows with the same fields")
		}
		return nil
	}
	if err := shape.read(ctx, f.path); err != nil {
		return err
	}
	for _, s := range shape.sheets {
		if len(s.columns) == 0 {
			continue
		}
		info := shape.info
		info.Sheet = s.path
		b.sources = append(b.sources, source{info: info, from: f, read: func(ctx context.Context, _ Override, w *gridWriter) error {
			return writeJSON(ctx, f.path, s, w)
		}})
	}
	return nil
}

// writeJSON writes one sheet: the names as line 0, then its rows.
func writeJSON(ctx context.Context, path string, want *jsonSheet, w *gridWriter) error {
	if err := w.add(0, want.header()); err != nil {
		return err
	}
	r := &jsonReader{info: w.grid.Info, byPath: map[string]*jsonSheet{}}
	row := make([]string, len(want.columns))
	r.emit = func(s *jsonSheet, line int64, cells []cellAt) error {
		if s.path != want.path {
			return nil
		}
		clear(row)
		for _, c := range cells {
			i, ok := want.at[c.column]
			if !ok {
				return r.info.fault(line, "a file that changed while it was read", "wait until the export is written, then load it again")
			}
			row[i] = c.text
		}
		return w.add(line, row)
	}
	return r.read(ctx, path)
}

// read goes through the lines of a file.
func (r *jsonReader) read(ctx context.Context, path string) error {
	f, err := os.Open(path)
	if err != nil {
		return err
	}
	defer f.Close()
	in := bufio.NewReaderSize(f, 1<<16)
	r.sheet("")
	for line := int64(1); ; line++ {
		text, err := longLine(in)
		if errors.Is(err, errTooBig) {
			return r.info.fault(line, "a line of more than 1 MiB", "write one object a line")
		}
		if err != nil && !errors.Is(err, io.EOF) {
			return err
		}
		if line == 1 {
			text = bytes.TrimPrefix(text, []byte(bomUTF8))
		}
		if len(bytes.TrimSpace(text)) > 0 {
			if err := r.object(line, text); err != nil {
				return err
			}
		}
		if err != nil {
			return nil
		}
		if err := ctx.Err(); err != nil {
			return err
		}
	}
}

// longLine reads a line of at most maxRecord bytes.
func longLine(in *bufio.Reader) ([]byte, error) {
	var text []byte
	for {
		part, err := in.ReadSlice('\n')
		text = append(text, part...)
		if len(text) > maxRecord {
			return nil, errTooBig
		}
		if !errors.Is(err, bufio.ErrBufferFull) {
			return text, err
		}
	}
}

// object reads a line that must be one object.
func (r *jsonReader) object(line int64, text []byte) error {
	d := json.NewDecoder(bytes.NewReader(text))
	d.UseNumber()
	value, err := decodeValue(d, 0)
	if err == nil {
		if _, end := d.Token(); !errors.Is(end, io.EOF) {
			err = errors.New("more than one value")
		}
	}
	fields, ok := value.([]member)
	if err == nil && !ok {
		err = errors.New("no object")
	}
	if err != nil {
		return r.info.fault(line, "a line that is no JSON object ("+firstLine(err.Error())+")", "write one object a line")
	}
	return r.row("", line, nil, fields)
}

// decodeValue reads a value with the fields of objects in their order.
func decodeValue(d *json.Decoder, depth int) (any, error) {
	if depth > maxDepth {
		return nil, fmt.Errorf("objects nested more than %d deep", maxDepth)
	}
	tok, err := d.Token()
	if err != nil {
		return nil, unexpected(err)
	}
	switch tok {
	case json.Delim('{'):
		fields := []member{}
		for d.More() {
			name, err := d.Token()
			if err != nil {
				return nil, err
			}
			value, err := decodeValue(d, depth+1)
			if err != nil {
				return nil, err
			}
			fields = append(fields, member{name.(string), value})
		}
		_, err = d.Token()
		return fields, err
	case json.Delim('['):
		list := []any{}
		for d.More() {
			value, err := decodeValue(d, depth+1)
			if err != nil {
				return nil, err
			}
			list = append(list, value)
		}
		_, err = d.Token()
		return list, err
	}
	return tok, nil
}

func (r *jsonReader) sheet(path string) *jsonSheet {
	s := r.byPath[path]
	if s == nil {
		s = &jsonSheet{path: path, at: map[string]int{}}
		r.byPath[path] = s
		r.sheets = append(r.sheets, s)
	}
	return s
}

// row flattens one object into a row of its sheet, then the lists inside it.
func (r *jsonReader) row(path string, line int64, keys []cellAt, fields []member) error {
	s := r.sheet(path)
	var own []cellAt
	var lists []member
	flatten("", fields, &own, &lists)
	cells := append(keys[:len(keys):len(keys)], own...)
	seen := map[string]bool{}
	for _, c := range cells {
		if seen[c.column] {
			return r.info.fault(line, fmt.Sprintf("the field %q twice in one object", c.column), "write every field once")
		}
		seen[c.column] = true
	}
	if err := r.emit(s, line, cells); err != nil {
		return err
	}
	passed := make([]cellAt, 0, len(keys)+1)
	for _, k := range keys {
		passed = append(passed, cellAt{above + k.column, k.text})
	}
	if len(own) > 0 {
		passed = append(passed, cellAt{above + own[0].column, own[0].text})
	}
	for _, l := range lists {
		below := strings.TrimPrefix(path+"."+l.name, ".")
		for _, item := range l.value.([]any) {
			if err := r.row(below, line, passed, item.([]member)); err != nil {
				return err
			}
		}
	}
	return nil
}

// flatten sorts the fields of an object into cells and lists of objects.
func flatten(prefix string, fields []member, cells *[]cellAt, lists *[]member) {
	for _, f := range fields {
		name := prefix + f.name
		switch v := f.value.(type) {
		case []member:
			flatten(name+".", v, cells, lists)
		case []any:
			if len(v) > 0 && allObjects(v) {
				*lists = append(*lists, member{name, v})
				continue
			}
			texts := make([]string, len(v))
			for i, x := range v {
				texts[i] = plainText(x)
			}
			*cells = append(*cells, cellAt{name, strings.Join(texts, "|")})
		default:
			*cells = append(*cells, cellAt{name, plainText(v)})
		}
	}
}

func allObjects(list []any) bool {
	for _, x := range list {
		if _, ok := x.([]member); !ok {
			return false
		}
	}
	return true
}

// plainText writes a value that is no object. A list within a list, or an object in
// a list of plain values, is written as JSON.
func plainText(v any) string {
	switch v := v.(type) {
	case nil:
		return ""
	case string:
		return v
	case bool:
		return strconv.FormatBool(v)
	case json.Number:
		return jsonNumber(string(v))
	case []member:
		parts := make([]string, len(v))
		for i, f := range v {
			parts[i] = strconv.Quote(f.name) + ":" + jsonText(f.value)
		}
		return "{" + strings.Join(parts, ",") + "}"
	case []any:
		parts := make([]string, len(v))
		for i, x := range v {
			parts[i] = jsonText(x)
		}
		return "[" + strings.Join(parts, ",") + "]"
	}
	return fmt.Sprint(v)
}

func jsonText(v any) string {
	switch v := v.(type) {
	case nil:
		return "null"
	case string:
		return strconv.Quote(v)
	}
	return plainText(v)
}

// jsonNumber keeps the digits of a plain number, without zeros that end a fraction,
// and writes one with an exponent out.
func jsonNumber(s string) string {
	if strings.ContainsAny(s, "eE") {
		if x, err := strconv.ParseFloat(s, 64); err == nil {
			return numberText(x)
		}
		return s
	}
	if strings.Contains(s, ".") {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	return s
}
