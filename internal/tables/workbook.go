package tables

import (
	"fmt"
	"io"

	"afterfit/internal/blank"
)

// Workbook writes many tables into one workbook: a sheet that lists them, then one
// sheet a table. It is written by Close.
type Workbook struct {
	w       io.Writer
	results *blank.Results
}

// NewWorkbook returns a workbook that will be written to w.
func NewWorkbook(w io.Writer) (*Workbook, error) {
	r, err := blank.NewResults()
	if err != nil {
		return nil, err
	}
	return &Workbook{w, r}, nil
}

// Sheet starts the sheet of a table; its Close ends it, before the next one starts.
func (b *Workbook) Sheet(about About) File {
	return &sheetFile{results: b.results, about: about}
}

// Close writes the workbook.
func (b *Workbook) Close() error { return b.results.Write(b.w) }

// Drop gives back what an unfinished workbook holds.
func (b *Workbook) Drop() error { return b.results.Drop() }

// sheetFile is a table on a sheet; own is the workbook to write when it is the only one.
type sheetFile struct {
	results *blank.Results
	about   About
	sheet   *blank.ResultSheet
	columns []Column
	cells   []any
	own     *Workbook
}

func newSheetFile(w io.Writer, about About) (*sheetFile, error) {
	b, err := NewWorkbook(w)
	if err != nil {
		return nil, err
	}
	return &sheetFile{results: b.results, about: about, own: b}, nil
}

func (s *sheetFile) Head(columns []Column) (err error) {
	s.columns, s.cells = columns, make([]any, len(columns))
	s.sheet, err = s.results.Sheet(s.about.Name, s.about.Text, Names(columns))
	return err
}

func (s *sheetFile) Row(cells []string) error {
	for i, cell := range cells {
		v, err := typed(s.columns[i], cell)
		if err != nil {
			return err
		}
		s.cells[i] = v
	}
	return s.sheet.Row(s.cells)
}

func (s *sheetFile) Close() error {
	if s.sheet == nil {
		return fmt.Errorf("table %s has no columns", s.about.Name)
	}
	if err := s.sheet.Close(); err != nil || s.own == nil {
		return err
	}
	return s.own.Close()
}
