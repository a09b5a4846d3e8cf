// Package tables writes tables for taking along: CSV, JSON, Parquet and one workbook.
// A table comes row by row and is never held whole, except by a Table. The same rows
// give the same bytes in every format.
package tables

import (
	"fmt"
	"io"
	"strings"
)

// Kind is what a column holds.
type Kind int

// The kinds. A cell of any kind may be empty: there is nothing.
const (
	Text   Kind = iota
	Whole       // a whole number that 64 bits hold
	Number      // a number, with a point as its decimal sign
	YesNo       // true or false
)

// Column is a column's name and kind.
type Column struct {
	Name string
	Kind Kind
}

// About says what a table is: its name, which names a file or a sheet, and what it
// answers, in words.
type About struct{ Name, Text string }

// Sink takes a table: Head once, then Row for every row, each cell as text and "" for
// nothing, in the order of the columns.
type Sink interface {
	Head(columns []Column) error
	Row(cells []string) error
}

// File is a sink that is finished by Close, which writes what is still held back.
type File interface {
	Sink
	Close() error
}

// Formats are what one table can be written as.
var Formats = []string{"csv", "json", "parquet", "xlsx"}

// New returns a file that writes a table to w in a format of Formats.
func New(w io.Writer, format string, about About) (File, error) {
	switch format {
	case "csv":
		return newCSV(w), nil
	case "json":
		return newJSON(w), nil
	case "parquet":
		return newParquet(w, about)
	case "xlsx":
		return newSheetFile(w, about)
	}
	return nil, fmt.Errorf("there is no format %q: give %s", format, strings.Join(Formats, ", "))
}

// Table is a sink that holds a table whole.
type Table struct {
	Columns []Column
	Rows    [][]string
}

// Head takes the columns.
func (t *Table) Head(columns []Column) error {
	t.Columns = columns
	return nil
}

// Row takes a copy of a row.
func (t *Table) Row(cells []string) error {
	t.Rows = append(t.Rows, append([]string{}, cells...))
	return nil
}

// Fill hands the table on.
func (t *Table) Fill(into Sink) error {
	if err := into.Head(t.Columns); err != nil {
		return err
	}
	for _, r := range t.Rows {
		if err := into.Row(r); err != nil {
			return err
		}
	}
	return nil
}

// Names are the names of the columns.
func Names(columns []Column) []string {
	out := make([]string, len(columns))
	for i, c := range columns {
		out[i] = c.Name
	}
	return out
}

// Both hands every row to all of the sinks, in their order.
type Both []Sink

// Head hands the columns on.
func (b Both) Head(columns []Column) error {
	for _, s := range b {
		if err := s.Head(columns); err != nil {
			return err
		}
	}
	return nil
}

// Row hands a row on.
func (b Both) Row(cells []string) error {
	for _, s := range b {
		if err := s.Row(cells); err != nil {
			return err
		}
	}
	return nil
}
