package intake

import (
	"context"
	"database/sql"
	"errors"

	"afterfit/internal/bundle"
	"afterfit/internal/mapping"
	"afterfit/internal/privacy"
	"afterfit/internal/sheets"
)

// Exploration is what an export without a mapping looks like, and a mapping
// proposed for it.
type Exploration struct {
	Path     string               `json:"path"`
	Sheets   []*mapping.SheetLook `json:"sheets"`
	Skipped  []string             `json:"files_passed_over"`
	Proposal string               `json:"proposed_mapping"`
	Privacy  []privacy.Finding    `json:"privacy"` // what could identify people, judged as strictly as safe_harbor
}

// Explore looks an export of any shape through, stores nothing, and proposes a
// mapping for it.
func Explore(ctx context.Context, path string) (e *Exploration, err error) {
	scratch, done, err := makeScratch("")
	if err != nil {
		return nil, err
	}
	defer done()
	book, err := sheets.Open(ctx, path, scratch)
	if err != nil {
		return nil, asBadData(err)
	}
	defer func() { err = errors.Join(err, book.Close()) }()
	e = &Exploration{Path: path, Privacy: []privacy.Finding{}, Sheets: []*mapping.SheetLook{}, Skipped: append([]string{}, book.Skipped()...)}
	err = inMemory(ctx, scratch, func(ctx context.Context, c *sql.Conn) error {
		for i := range book.Sheets() {
			g, err := book.Grid(ctx, i, sheets.Override{})
			if err != nil {
				return asBadData(err)
			}
			look, err := mapping.LookAt(ctx, c, i, asGrid(g))
			if err != nil {
				return err
			}
			found, err := screenLook(ctx, c, look)
			if err != nil {
				return err
			}
			e.Privacy = append(e.Privacy, found...)
			e.Sheets = append(e.Sheets, look)
		}
		e.Proposal, err = mapping.Propose(ctx, c, baseName(path), e.Sheets)
		return err
	})
	return e, err
}

// Trial is what a mapping would make of an export.
type Trial struct {
	Path    string                `json:"path"`
	Note    Note                  `json:"note"`
	Sources []mapping.Balance     `json:"sources"`
	Unknown []mapping.UnknownCode `json:"unknown_codes"`
	Tables  []TableTrial          `json:"tables"`
	Privacy []privacy.Finding     `json:"privacy"` // what could identify people in the export's own columns
	Cleared []privacy.Clearance   `json:"cleared"` // findings that the mapping clears
}

// TableTrial counts the rows that a mapping makes of one table. NotTurned are
// those with a cell that it can make nothing of; a load sets them aside, and rows
// that break a rule of the contract besides.
type TableTrial struct {
	Table     string `json:"table"`
	Rows      int64  `json:"rows"`
	NotTurned int64  `json:"not_turned"`
}

// Try runs a mapping over an export and stores nothing.
func Try(ctx context.Context, path, mappingPath string) (*Trial, error) {
	scratch, done, err := makeScratch("")
	if err != nil {
		return nil, err
	}
	defer done()
	m, err := readMapping(mappingPath)
	if err != nil {
		return nil, err
	}
	src, err := openMapped(ctx, path, m, scratch, false, nil)
	if err != nil {
		return nil, err
	}
	t := &Trial{Path: path, Note: src.note, Sources: src.turned.Balance, Unknown: src.turned.Unknown, Tables: []TableTrial{}, Privacy: src.screen.found, Cleared: src.screen.used}
	src.screen.hideWords(t.Unknown)
	for _, tb := range src.turned.Tables {
		t.Tables = append(t.Tables, TableTrial{tb.Name, tb.Rows, tb.Problems})
	}
	return t, nil
}

// IsBundle reports whether an export has at least one table by the name that the
// contract gives it. What cannot be opened counts as a bundle: Look says what is
// wrong with it.
func IsBundle(ctx context.Context, path string) bool {
	scratch, done, err := makeScratch("")
	if err != nil {
		return true
	}
	defer done()
	book, err := sheets.Open(ctx, path, scratch)
	if err != nil {
		return true
	}
	defer func() { _ = book.Close() }()
	for _, info := range book.Sheets() {
		if _, ok := bundle.Find(tableName(info)); ok {
			return true
		}
	}
	return false
}
