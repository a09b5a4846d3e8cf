package intake

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"strings"

	"afterfit/internal/bundle"
	"afterfit/internal/privacy"
	"afterfit/internal/store"
)

// LookReport is what an export holds, seen without storing it.
type LookReport struct {
	Path   string      `json:"path"`
	Note   Note        `json:"note"`
	Tables []TableLook `json:"tables"` // those of the contract, in its order

	Privacy []privacy.Finding `json:"privacy"`        // what could identify people, cleared findings left out
	Risk    *privacy.Risk     `json:"risk,omitempty"` // of small cells; nil where the cases cannot be read
}

// TableLook describes one table of an export.
type TableLook struct {
	Table    string       `json:"table"`
	Present  bool         `json:"present"`
	Required bool         `json:"required"`
	File     string       `json:"file,omitempty"`
	Rows     int64        `json:"rows"`
	Rejected int64        `json:"malformed_rows"` // rows that cannot be cut into cells
	Columns  []ColumnLook `json:"columns"`
	Missing  []string     `json:"missing"`           // columns of the contract that are not there
	Problem  string       `json:"problem,omitempty"` // why a load would refuse it

	privacy []privacy.Finding
}

// ColumnLook describes one column. Filled is the share of rows with anything in
// the cell, in [0,1]; 0 for a table without rows.
type ColumnLook struct {
	Name   string  `json:"name"`
	Known  bool    `json:"known"` // the contract has it
	Filled float64 `json:"filled"`
}

// Look describes the export at path and stores nothing. A table that a load would
// refuse has its Problem; only a path without any export is an error.
func Look(ctx context.Context, path string) (report *LookReport, err error) {
	scratch, done, err := makeScratch("")
	if err != nil {
		return nil, err
	}
	defer done()
	src, err := Open(ctx, path, scratch)
	if err != nil {
		return nil, err
	}
	defer func() { _ = closeSource(src) }() // only read from
	st, err := store.Scratch(ctx, store.Options{TempDir: scratch})
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, st.Close()) }()
	report = &LookReport{Path: path, Note: src.Note()}
	err = st.Tx(ctx, func(ctx context.Context, c *sql.Conn) error {
		for _, t := range bundle.Tables {
			look, err := lookAt(ctx, c, src, t, scratch)
			if err != nil {
				return err
			}
			report.Tables = append(report.Tables, look)
			report.Privacy = append(report.Privacy, look.privacy...)
		}
		report.Privacy, _ = privacy.Clear(report.Privacy, report.Note.Cleared)
		report.Risk, err = lookAtRisk(ctx, c, src, report, scratch)
		return err
	})
	return report, err
}

func lookAt(ctx context.Context, c *sql.Conn, src Source, t bundle.Table, scratch string) (TableLook, error) {
	look := TableLook{Table: t.Name, Required: t.Required, Columns: []ColumnLook{}, Missing: []string{}}
	if !contains(src.Tables(), t.Name) {
		if t.Required {
			look.Problem = "no table " + t.Name + ": add " + t.Name + ".csv"
		}
		return look, nil
	}
	look.Present = true
	sheet, err := src.Read(ctx, t.Name, scratch)
	var fault Fault
	if errors.As(err, &fault) {
		look.File, look.Problem = fault.File, fault.String()
		return look, nil
	}
	if err != nil {
		return look, err
	}
	look.File, look.Rows, look.Rejected = sheet.File, sheet.Records, int64(len(sheet.Rejected))
	look.Missing = missingColumns(t, sheet.Header)
	if err := checkHeader(t, sheet); err != nil {
		look.Problem = err.Error()
	}
	look.Columns, look.privacy, err = fillRates(ctx, c, t, sheet, privacy.Basis(src.Note().Basis))
	return look, err
}

// fillRates counts the filled cells of each column. Names that the header repeats
// or leaves empty get a number, so that every column can be counted. On the way it
// screens every column for what could identify people.
func fillRates(ctx context.Context, c *sql.Conn, t bundle.Table, sheet *Sheet, basis privacy.Basis) ([]ColumnLook, []privacy.Finding, error) {
	plainNames := *sheet
	plainNames.Header = make([]string, len(sheet.Header))
	counts, looks := make([]string, len(sheet.Header)), make([]ColumnLook, len(sheet.Header))
	for i, name := range sheet.Header {
		plainNames.Header[i] = fmt.Sprintf("c%d", i)
		counts[i] = fmt.Sprintf("count(c%d)", i)
		_, known := t.Column(name)
		looks[i] = ColumnLook{Name: privacy.SafeHeader(name), Known: known}
	}
	g := &stage{t: bundle.Table{Name: t.Name}, sheet: &plainNames}
	if err := g.read(ctx, c); err != nil {
		return nil, nil, err
	}
	found, err := screenSheet(ctx, c, basis, t, sheet, g.rawTable(), plainNames.Header)
	if err != nil {
		return nil, nil, err
	}
	filled, dest := make([]int64, len(counts)), make([]any, len(counts))
	for i := range filled {
		dest[i] = &filled[i]
	}
	if err := c.QueryRowContext(ctx, "SELECT "+strings.Join(counts, ", ")+" FROM "+g.rawTable()).Scan(dest...); err != nil {
		return nil, nil, err
	}
	for i := range looks {
		if sheet.Records > 0 {
			looks[i].Filled = float64(filled[i]) / float64(sheet.Records)
		}
	}
	return looks, found, g.drop(ctx, c)
}
