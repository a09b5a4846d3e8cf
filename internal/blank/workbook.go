// Package blank writes what a practice without an export fills in: a workbook with
// a sheet for each table of the contract, and a paper form. Rows to correct are
// written in the same workbook. Everything in it comes from the contract. The same
// writer makes workbooks of results.
package blank

import (
	"errors"
	"fmt"
	"io"
	"regexp"
	"strconv"
	"strings"

	"github.com/xuri/excelize/v2"

	"afterfit/internal/bundle"
)

// Sheets of the workbook that are no tables: the bundle's word about itself, the
// instructions, and the lists behind the drop-downs (hidden).
const (
	NoteSheet  = "bundle"
	HelpSheet  = "help"
	CodesSheet = "codes"
)

// The first row to fill in, and the last that has lists and checks.
const (
	firstRow = 3
	lastRow  = 10002
)

// Row is one row to write: cells in the order of the contract's columns, more cells
// in the order of Content.More, and the column to mark as wrong ("" for none).
type Row struct {
	Cells []string
	More  []string
	Wrong string
}

// Content is what a workbook starts with. The zero value is an empty workbook.
type Content struct {
	Note [][2]string      // key and value of the sheet bundle; nil = the empty note
	Rows map[string][]Row // by table
	More []string         // names of the columns behind the contract's
}

var emptyNote = [][2]string{{"name", ""}, {"basis", ""}, {"invented", "no"}, {"complete", "no"}}

// writer holds the styles while a workbook is written.
type writer struct {
	f                    *excelize.File
	heading, name, wrong int
	formats              map[bundle.Kind]int
	lists                map[string]string // codes joined -> where they stand
}

func newWriter() *writer {
	f := excelize.NewFile()
	f.SetZipWriter(newOrderedZip)
	return &writer{f: f, formats: map[bundle.Kind]int{}, lists: map[string]string{}}
}

// Workbook writes a workbook as XLSX. The same content gives the same bytes.
func Workbook(out io.Writer, c Content) (err error) {
	w := newWriter()
	defer func() { err = errors.Join(err, w.f.Close()) }()
	if err := w.styles(); err != nil {
		return err
	}
	if err := w.f.SetSheetName("Sheet1", HelpSheet); err != nil {
		return err
	}
	if err := w.codes(); err != nil {
		return err
	}
	for _, t := range bundle.Tables {
		if err := w.table(t, c); err != nil {
			return fmt.Errorf("sheet %s: %w", t.Name, err)
		}
	}
	if err := w.note(c.Note); err != nil {
		return err
	}
	if err := w.help(); err != nil {
		return err
	}
	return w.f.Write(out)
}

// styles makes the few that are used. Texts and codes are formatted as text, so
// that a program turns neither 007 into 7 nor 2024-03 into a date.
func (w *writer) styles() error {
	top := &excelize.Alignment{Vertical: "top", WrapText: true}
	var errs []error
	style := func(s excelize.Style) int {
		id, err := w.f.NewStyle(&s)
		errs = append(errs, err)
		return id
	}
	w.heading = style(excelize.Style{Font: &excelize.Font{Bold: true}, Alignment: top, NumFmt: 49})
	w.name = style(excelize.Style{Font: &excelize.Font{Color: "595959"}, NumFmt: 49, Border: []excelize.Border{{Type: "bottom", Color: "1D1D1F", Style: 2}}})
	double := []excelize.Border{{Type: "left", Color: "D55E00", Style: 6}, {Type: "right", Color: "D55E00", Style: 6}, {Type: "top", Color: "D55E00", Style: 6}, {Type: "bottom", Color: "D55E00", Style: 6}}
	w.wrong = style(excelize.Style{NumFmt: 49, Border: double})
	for kind := bundle.Text; kind <= bundle.AgeBand; kind++ {
		format := 49 // text
		switch kind {
		case bundle.Int, bundle.Day:
			format = 1 // 0
		case bundle.Length:
			format = 2 // 0.00
		}
		w.formats[kind] = style(excelize.Style{NumFmt: format})
	}
	return errors.Join(errs...)
}

// codes writes every list of codes into a column of a hidden sheet. A list inside
// a check may have only 255 characters.
func (w *writer) codes() error {
	if _, err := w.f.NewSheet(CodesSheet); err != nil {
		return err
	}
	basis := []string{"safe_harbor", "limited_data_set", "consented_local"}
	lists := [][]string{{"yes", "no"}, basis}
	for _, t := range bundle.Tables {
		for _, c := range t.Columns {
			lists = append(lists, c.Codes)
		}
	}
	for _, list := range lists {
		key := strings.Join(list, "|")
		if _, known := w.lists[key]; known || len(list) == 0 {
			continue
		}
		col, err := excelize.ColumnNumberToName(len(w.lists) + 1)
		if err != nil {
			return err
		}
		if err := w.f.SetSheetCol(CodesSheet, col+"1", &list); err != nil {
			return err
		}
		w.lists[key] = fmt.Sprintf("%s!$%s$1:$%s$%d", CodesSheet, col, col, len(list))
	}
	return w.f.SetSheetVisible(CodesSheet, false)
}

func (w *writer) table(t bundle.Table, c Content) error {
	if _, err := w.f.NewSheet(t.Name); err != nil {
		return err
	}
	for i, col := range t.Columns {
		name, err := excelize.ColumnNumberToName(i + 1)
		if err != nil {
			return err
		}
		if err := w.column(t, col, name); err != nil {
			return fmt.Errorf("column %s: %w", col.Name, err)
		}
	}
	if len(c.Rows[t.Name]) > 0 {
		if err := w.moreColumns(t, c.More); err != nil {
			return err
		}
	}
	for i, r := range c.Rows[t.Name] {
		if err := w.row(t, firstRow+i, r); err != nil {
			return err
		}
	}
	if err := w.f.SetRowHeight(t.Name, 1, 48); err != nil {
		return err
	}
	return w.f.SetPanes(t.Name, &excelize.Panes{Freeze: true, YSplit: firstRow - 1, TopLeftCell: fmt.Sprintf("A%d", firstRow), ActivePane: "bottomLeft"})
}

// column writes a column's two headings, its format and its check.
func (w *writer) column(t bundle.Table, c bundle.Column, name string) error {
	text := label(t, c)
	if c.Required {
		text += ", needed"
	}
	return errors.Join(
		w.f.SetColStyle(t.Name, name, w.formats[c.Kind]),
		w.f.SetColWidth(t.Name, name, name, max(14, float64(len(c.Name)+2))),
		w.head(t.Name, name, text, c.Name),
		w.check(t, c, name))
}

func (w *writer) head(sheet, column, heading, name string) error {
	return errors.Join(
		w.f.SetCellStr(sheet, column+"1", heading), w.f.SetCellStr(sheet, column+"2", name),
		w.f.SetCellStyle(sheet, column+"1", column+"1", w.heading), w.f.SetCellStyle(sheet, column+"2", column+"2", w.name))
}

// moreColumns names the columns behind those of the contract.
func (w *writer) moreColumns(t bundle.Table, more []string) error {
	for i, m := range more {
		name, err := excelize.ColumnNumberToName(len(t.Columns) + i + 1)
		if err != nil {
			return err
		}
		if err := errors.Join(w.f.SetColStyle(t.Name, name, w.formats[bundle.Text]), w.f.SetColWidth(t.Name, name, name, 30), w.head(t.Name, name, "For your eyes; not loaded", m)); err != nil {
			return err
		}
	}
	return nil
}

// plainNumber is what is written as a number; anything else stays the text it was.
var plainNumber = regexp.MustCompile(`^-?(0|[1-9]\d{0,5})(\.\d{1,2})?$`)

func (w *writer) row(t bundle.Table, at int, r Row) error {
	for i, text := range append(append([]string{}, r.Cells...), r.More...) {
		cell, err := excelize.CoordinatesToCellName(i+1, at)
		if err != nil {
			return err
		}
		number := i < len(t.Columns) && (t.Columns[i].Kind == bundle.Int || t.Columns[i].Kind == bundle.Day || t.Columns[i].Kind == bundle.Length)
		if x, perr := strconv.ParseFloat(text, 64); perr == nil && number && plainNumber.MatchString(text) {
			err = w.f.SetCellFloat(t.Name, cell, x, -1, 64)
		} else if text != "" {
			err = w.f.SetCellStr(t.Name, cell, text)
		}
		if err == nil && i < len(t.Columns) && t.Columns[i].Name == r.Wrong {
			err = w.f.SetCellStyle(t.Name, cell, cell, w.wrong)
		}
		if err != nil {
			return err
		}
	}
	return nil
}

func (w *writer) note(note [][2]string) error {
	if _, err := w.f.NewSheet(NoteSheet); err != nil {
		return err
	}
	if note == nil {
		note = emptyNote
	}
	errs := []error{w.f.SetColWidth(NoteSheet, "A", "A", 14), w.f.SetColWidth(NoteSheet, "B", "B", 40), w.f.SetSheetRow(NoteSheet, "A1", &[]string{"key", "value"}), w.f.SetCellStyle(NoteSheet, "A1", "B1", w.heading)}
	for i, kv := range note {
		at := fmt.Sprintf("A%d", i+2)
		errs = append(errs, w.f.SetSheetRow(NoteSheet, at, &[]string{kv[0], kv[1]}))
		list := ""
		switch kv[0] {
		case "basis":
			list = w.lists["safe_harbor|limited_data_set|consented_local"]
		case "invented", "complete", "adds":
			list = w.lists["yes|no"]
		}
		if list != "" {
			dv := excelize.NewDataValidation(true)
			dv.SetSqref(fmt.Sprintf("B%d", i+2))
			dv.SetSqrefDropList(list)
			errs = append(errs, w.f.AddDataValidation(NoteSheet, dv))
		}
	}
	return errors.Join(errs...)
}

func (w *writer) help() error {
	errs := []error{w.f.SetColWidth(HelpSheet, "A", "A", 110), w.f.SetCellStyle(HelpSheet, "A1", "A1", w.heading)}
	for i, line := range help {
		errs = append(errs, w.f.SetCellStr(HelpSheet, fmt.Sprintf("A%d", i+1), line))
	}
	i, err := w.f.GetSheetIndex(HelpSheet)
	w.f.SetActiveSheet(i)
	return errors.Join(append(errs, err)...)
}
