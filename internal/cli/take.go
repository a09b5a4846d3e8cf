package cli

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strconv"

	"afterfit/internal/review"
	"afterfit/internal/store"
	"afterfit/internal/tables"
)

// workbookFile is the workbook that holds every table.
const workbookFile = "tables.xlsx"

// fillFile writes one table to w.
func fillFile(w io.Writer, format string, about tables.About, fill func(tables.Sink) error) error {
	f, err := tables.New(w, format, about)
	if err != nil {
		return err
	}
	if err := fill(f); err != nil {
		_ = f.Close() // what it says of a broken table matters less
		return err
	}
	return f.Close()
}

// source is a table and what fills it.
type source struct {
	tables.About
	fill func(tables.Sink) error
}

// everyTable is each question's table, cut from the findings where it can be.
func everyTable(ctx context.Context, st *store.Store, s settings, f *review.Findings) []source {
	var out []source
	for _, q := range review.Questions() {
		out = append(out, source{q.About(), func(into tables.Sink) error { return review.Answer(ctx, st, s.Review, q.Name, f, into) }})
	}
	return out
}

// writeTables writes every table into a folder as CSV, JSON and Parquet, all of them
// into one workbook, and the list of them. Each table is read once.
func writeTables(dir string, all []source) error {
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return fmt.Errorf("cannot make the folder %s: %w", dir, err)
	}
	contents := &tables.Table{Columns: []tables.Column{{Name: "table"}, {Name: "answers"}, {Name: "rows", Kind: tables.Whole}}}
	err := writeBeside(filepath.Join(dir, workbookFile), func(w io.Writer) (err error) {
		book, err := tables.NewWorkbook(w)
		if err != nil {
			return err
		}
		for _, one := range all {
			n := &counter{}
			if err := writeTable(dir, one, book.Sheet(one.About), n); err != nil {
				return errors.Join(fmt.Errorf("table %s: %w", one.Name, err), book.Drop())
			}
			if err := contents.Row([]string{one.Name, one.Text, strconv.Itoa(n.rows)}); err != nil {
				return err
			}
		}
		return book.Close()
	})
	if err != nil {
		return err
	}
	return writeBeside(filepath.Join(dir, "contents.csv"), func(w io.Writer) error { return fillFile(w, "csv", tables.About{}, contents.Fill) })
}

// counter counts rows.
type counter struct{ rows int }

func (c *counter) Head([]tables.Column) error { return nil }

func (c *counter) Row([]string) error {
	c.rows++
	return nil
}

// writeTable writes one table in every format side by side, and on its sheet.
func writeTable(dir string, one source, sheet tables.File, n *counter) error {
	return nested(dir, one.About, []string{"csv", "json", "parquet"}, tables.Both{n, sheet}, func(into tables.Sink) error {
		if err := one.fill(into); err != nil {
			return err
		}
		return sheet.Close()
	})
}

// nested opens a file for each format, one inside the other, and fills all at once.
func nested(dir string, about tables.About, formats []string, so tables.Both, fill func(tables.Sink) error) error {
	if len(formats) == 0 {
		return fill(so)
	}
	return writeBeside(filepath.Join(dir, about.Name+"."+formats[0]), func(w io.Writer) error {
		return fillFile(w, formats[0], about, func(into tables.Sink) error { return nested(dir, about, formats[1:], append(so, into), fill) })
	})
}
