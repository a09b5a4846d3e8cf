package blank

import (
	"errors"
	"fmt"
	"io"

	"github.com/xuri/excelize/v2"
)

// MaxRows is how many rows of a table one sheet holds below its heading.
const MaxRows = 1<<20 - 1

// ContentsSheet is the sheet of a workbook of results that lists the others.
const ContentsSheet = "contents"

// Results is a workbook of tables to read, one sheet a table and the list of them in
// front. Texts are text cells, which no program runs as formulas; numbers are numbers.
// The same tables give the same bytes.
type Results struct {
	w    *writer
	list [][2]string
	rows []int
}

// NewResults starts a workbook; Write ends it.
func NewResults() (*Results, error) {
	w := newWriter()
	if err := errors.Join(w.styles(), w.f.SetSheetName("Sheet1", ContentsSheet)); err != nil {
		return nil, errors.Join(err, w.f.Close())
	}
	return &Results{w: w}, nil
}

// ResultSheet is a sheet whose rows are written as they come.
type ResultSheet struct {
	of     *Results
	name   string
	stream *excelize.StreamWriter
	rows   int // that came
}

// Sheet starts a sheet with the names of its columns; text says what it answers. The
// name has at most 31 characters.
func (r *Results) Sheet(name, text string, columns []string) (*ResultSheet, error) {
	if _, err := r.w.f.NewSheet(name); err != nil {
		return nil, fmt.Errorf("sheet %s: %w", name, err)
	}
	stream, err := r.w.f.NewStreamWriter(name)
	if err != nil {
		return nil, fmt.Errorf("sheet %s: %w", name, err)
	}
	head := make([]any, len(columns))
	for i, c := range columns {
		head[i] = excelize.Cell{StyleID: r.w.heading, Value: c}
	}
	r.list = append(r.list, [2]string{name, text})
	return &ResultSheet{of: r, name: name, stream: stream}, errors.Join(
		stream.SetColWidth(1, max(1, len(columns)), 16),
		stream.SetPanes(&excelize.Panes{Freeze: true, YSplit: 1, TopLeftCell: "A2", ActivePane: "bottomLeft"}),
		stream.SetRow("A1", head))
}

// Row writes a row of texts, numbers, booleans and nil. Rows beyond MaxRows are counted
// and not written; Close says so in the list.
func (s *ResultSheet) Row(cells []any) error {
	if s.rows++; s.rows > MaxRows {
		return nil
	}
	return s.stream.SetRow(fmt.Sprintf("A%d", s.rows+1), cells)
}

// Close ends the sheet.
func (s *ResultSheet) Close() error {
	s.of.rows = append(s.of.rows, s.rows)
	return s.stream.Flush()
}

// Write writes the workbook and gives back what it held.
func (r *Results) Write(out io.Writer) (err error) {
	defer func() { err = errors.Join(err, r.w.f.Close()) }()
	f := r.w.f
	errs := []error{f.SetColWidth(ContentsSheet, "A", "A", 22), f.SetColWidth(ContentsSheet, "B", "B", 90), f.SetColWidth(ContentsSheet, "C", "D", 16),
		f.SetSheetRow(ContentsSheet, "A1", &[]string{"table", "answers", "rows", "note"}), f.SetCellStyle(ContentsSheet, "A1", "D1", r.w.heading)}
	for i, one := range r.list {
		note := ""
		if r.rows[i] > MaxRows {
			note = fmt.Sprintf("A sheet holds %d rows: the rest is in the CSV or Parquet file.", MaxRows)
		}
		errs = append(errs, f.SetSheetRow(ContentsSheet, fmt.Sprintf("A%d", i+2), &[]any{one[0], one[1], r.rows[i], note}))
	}
	f.SetActiveSheet(0)
	return errors.Join(append(errs, f.Write(out))...)
}

// Drop gives back what a workbook holds that is not to be written.
func (r *Results) Drop() error { return r.w.f.Close() }
