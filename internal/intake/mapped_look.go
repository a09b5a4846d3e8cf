package intake

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"

	"afterfit/internal/mapping"
	"afterfit/internal/sheets"
	"afterfit/internal/store"
)

// Exploration is what an export without a mapping looks like, and a mapping
// proposed for it.
type Exploration struct {
	Path     string               `json:"path"`
	Sheets   []*mapping.SheetLook `json:"sheets"`
	Skipped  []string             `json:"files_passed_over"`
	Proposal string               `json:"proposed_mapping"`
}

// Explore looks an export of any shape through, stores nothing, and proposes a
// mapping for it.
func Explore(ctx context.Context, path string) (e *Exploration, err error) {
	scratch, err := os.MkdirTemp("", "afterfit-look-*")
	if err != nil {
		return nil, fmt.Errorf("%w: no folder for temporary files: %w", store.ErrUse, err)
	}
	defer func() { _ = os.RemoveAll(scratch) }()
	book, err := sheets.Open(ctx, path, scratch)
	if err != nil {
		return nil, asBadData(err)
	}
	defer func() { err = errors.Join(err, book.Close()) }()
	e = &Exploration{Path: path, Sheets: []*mapping.SheetLook{}, Skipped: append([]string{}, book.Skipped()...)}
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
			e.Sheets = append(e.Sheets, look)
		}
		e.Proposal, err = mapping.Propose(ctx, c, baseName(path), e.Sheets)
		return err
	})
	return e, err
}
