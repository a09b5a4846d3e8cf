package demo

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strconv"
	"strings"

	"afterfit/internal/bundle"
)

// sheet writes one table as CSV. Cells are given in the order of the contract; a row
// with another number of cells than the contract has columns is an error. No value
// of the scenario holds a comma, a quote or a line end, so none is quoted.
type sheet struct {
	name  string
	w     io.Writer
	buf   []byte
	cells int
	want  int
	err   error
}

const flushAt = 256 << 10

func newSheet(t bundle.Table, w io.Writer) *sheet {
	s := &sheet{name: t.Name, w: w, want: len(t.Columns), buf: make([]byte, 0, flushAt+4096)}
	s.buf = append(s.buf, strings.Join(t.Names(), ",")+"\n"...)
	return s
}

func (s *sheet) text(v string) {
	s.buf = append(append(s.buf, v...), ',')
	s.cells++
}

// number writes a whole number, nothing for missing.
func (s *sheet) number(v int) {
	switch {
	case v == missing:
		s.buf = append(s.buf, ',')
	case v >= 0 && v < 10:
		s.buf = append(s.buf, '0'+byte(v), ',')
	case v >= 10 && v < 100:
		s.buf = append(s.buf, '0'+byte(v/10), '0'+byte(v%10), ',')
	default:
		s.buf = append(strconv.AppendInt(s.buf, int64(v), 10), ',')
	}
	s.cells++
}

// length writes millimetres with one decimal, nothing for missing.
func (s *sheet) length(v tenths) {
	if v == missing {
		s.number(missing)
		return
	}
	if v < 0 {
		s.buf, v = append(s.buf, '-'), -v
	}
	if v < 1000 {
		if v >= 100 {
			s.buf = append(s.buf, '0'+byte(v/100))
		}
		s.buf = append(s.buf, '0'+byte(v/10%10))
	} else {
		s.buf = strconv.AppendInt(s.buf, int64(v/10), 10)
	}
	s.buf = append(s.buf, '.', '0'+byte(v%10), ',')
	s.cells++
}

// id writes a pseudonym: a letter and a number of at least nine digits, nothing for
// number 0.
func (s *sheet) id(letter byte, n int) {
	if n > 0 {
		s.buf = append(s.buf, letter)
		if n >= 1e9 {
			s.buf = strconv.AppendInt(s.buf, int64(n), 10)
		} else {
			a, b, c := n/1e6, n/1e3%1e3, n%1e3
			s.buf = append(s.buf, '0'+byte(a/100), '0'+byte(a/10%10), '0'+byte(a%10), '0'+byte(b/100), '0'+byte(b/10%10), '0'+byte(b%10),
				'0'+byte(c/100), '0'+byte(c/10%10), '0'+byte(c%10))
		}
	}
	s.buf = append(s.buf, ',')
	s.cells++
}

// list writes the codes whose bits are set, joined by "|"; nothing for no bits.
func (s *sheet) list(codes []string, bits uint) {
	first := true
	for i := 0; bits != 0; i, bits = i+1, bits>>1 {
		if bits&1 == 0 {
			continue
		}
		if !first {
			s.buf = append(s.buf, '|')
		}
		s.buf, first = append(s.buf, codes[i]...), false
	}
	s.buf = append(s.buf, ',')
	s.cells++
}

// end closes the row and passes the buffer on when it is full.
func (s *sheet) end() {
	s.buf[len(s.buf)-1] = '\n'
	if s.cells != s.want && s.err == nil {
		s.err = fmt.Errorf("%s: a row of %d cells where the contract has %d columns", s.name, s.cells, s.want)
	}
	s.cells = 0
	if len(s.buf) >= flushAt {
		s.flush()
	}
}

func (s *sheet) flush() {
	if s.err == nil {
		_, s.err = s.w.Write(s.buf)
	}
	s.buf = s.buf[:0]
}

// sheets are the eight tables of a bundle.
type sheets struct {
	cases, dentures, records, readings, trays, visits, spots, remakes *sheet
	all                                                               []*sheet
}

// newSheets starts the eight tables on the writers that open gives for their names.
func newSheets(open func(table string) (io.Writer, error)) (*sheets, error) {
	var out sheets
	places := []struct {
		table string
		to    **sheet
	}{{"cases", &out.cases}, {"dentures", &out.dentures}, {"records", &out.records}, {"readings", &out.readings},
		{"trays", &out.trays}, {"visits", &out.visits}, {"sore_spots", &out.spots}, {"remakes", &out.remakes}}
	for _, p := range places {
		t, ok := bundle.Find(p.table)
		if !ok {
			return nil, fmt.Errorf("the contract has no table %s", p.table)
		}
		w, err := open(p.table)
		if err != nil {
			return nil, err
		}
		*p.to = newSheet(t, w)
		out.all = append(out.all, *p.to)
	}
	return &out, nil
}

// firstError reports what went wrong in any table so far.
func (o *sheets) firstError() error {
	for _, s := range o.all {
		if s.err != nil {
			return s.err
		}
	}
	return nil
}

func (o *sheets) flush() error {
	for _, s := range o.all {
		s.flush()
	}
	return o.firstError()
}

// folder collects files under temporary names and gives them their own names
// together, so that a failed or interrupted run leaves no half-written bundle.
type folder struct {
	dir   string
	names []string
	files []*os.File
}

const partSuffix = ".part"

func (f *folder) create(name string) (io.Writer, error) {
	file, err := os.Create(filepath.Join(f.dir, name+partSuffix))
	if err != nil {
		return nil, err
	}
	f.names, f.files = append(f.names, name), append(f.files, file)
	return file, nil
}

// commit closes and renames all files. A table that an earlier bundle left here in the
// other format goes, since a bundle holds each table once.
func (f *folder) commit() error {
	for _, file := range f.files {
		if err := file.Close(); err != nil && !errors.Is(err, os.ErrClosed) {
			return err
		}
	}
	for _, name := range f.names {
		path := filepath.Join(f.dir, name)
		if err := os.Rename(path+partSuffix, path); err != nil {
			return err
		}
		for _, end := range []string{csvEnd, parquetEnd} {
			table := strings.TrimSuffix(strings.TrimSuffix(name, csvEnd), parquetEnd)
			if _, known := bundle.Find(table); !known || name == table+end {
				continue
			}
			if err := os.Remove(filepath.Join(f.dir, table+end)); err != nil && !errors.Is(err, fs.ErrNotExist) {
				return err
			}
		}
	}
	return nil
}

// discard closes and removes what was not renamed; errors have nowhere to go, since
// the cause of the failure is being reported already.
func (f *folder) discard() {
	for i, file := range f.files {
		_ = file.Close()
		_ = os.Remove(filepath.Join(f.dir, f.names[i]+partSuffix))
	}
}
