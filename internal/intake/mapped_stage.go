package intake

import (
	"context"
	"database/sql"
	"fmt"
	"maps"
	"slices"
	"strings"

	"afterfit/internal/mapping"
	"afterfit/internal/store"
)

// A table that a mapping turned carries with every row where it came from and what
// could not be turned. This file is what a stage does with that.

func (g *stage) turned() bool { return g.sheet != nil && g.sheet.Turned != nil }

// turnedColumns lists the columns of a turned table behind those of the contract.
func (sh *Sheet) turnedColumns() []string {
	if sh == nil || sh.Turned == nil {
		return nil
	}
	cols := []string{mapping.FileColumn, mapping.LineColumn, mapping.OriginColumn, mapping.ProblemColumn, mapping.ReasonColumn}
	for _, name := range sh.Turned.Texts {
		cols = append(cols, mapping.SourceText+name)
	}
	return cols
}

// whenNotTurned is the branch of the verdict for cells that the mapping could make
// nothing of. It comes first: the mapping's reason is in the export's own terms.
func (g *stage) whenNotTurned() string {
	if !g.turned() {
		return ""
	}
	return fmt.Sprintf(" WHEN r.%s IS NOT NULL THEN %d", mapping.ProblemColumn, notTurned)
}

// lineTable prepares what names lines and columns: the steps from record to line,
// or the words of a turned table's columns.
func (g *stage) lineTable(ctx context.Context, c *sql.Conn) error {
	if !g.turned() {
		return g.shiftTable(ctx, c)
	}
	if _, err := exec(ctx, c, "CREATE OR REPLACE TEMP TABLE words (origin VARCHAR, name VARCHAR, word VARCHAR)"); err != nil {
		return err
	}
	var rows []string
	for origin, words := range g.sheet.Turned.Words {
		for _, name := range slices.Sorted(maps.Keys(words)) {
			rows = append(rows, fmt.Sprintf("('%d', %s, %s)", origin, store.Quote(name), store.Quote(words[name])))
		}
	}
	if len(rows) == 0 {
		return nil
	}
	_, err := exec(ctx, c, "INSERT INTO temp.words VALUES "+strings.Join(rows, ", "))
	return err
}

// fileOf is the SQL of the file that a row set aside came from.
func (g *stage) fileOf() string {
	if g.turned() {
		return "r." + mapping.FileColumn
	}
	return store.Quote(g.sheet.File)
}

// wordOf is the SQL of the export's own word for the column at fault.
func (g *stage) wordOf() string {
	if g.turned() {
		return "coalesce(w.word, s._column)"
	}
	return "s._column"
}

func (g *stage) wordJoin() string {
	if g.turned() {
		return " LEFT JOIN temp.words w ON w.origin = r." + mapping.OriginColumn + " AND w.name = s._column"
	}
	return ""
}

// textOf is the SQL of what stands in the cell at fault, in the export itself.
func (g *stage) textOf() string {
	text := "CASE s._column"
	for _, name := range g.t.Names() {
		x := raw(name)
		if g.turned() && contains(g.sheet.Turned.Texts, name) {
			x = "r." + mapping.SourceText + name
		}
		text += fmt.Sprintf(" WHEN '%s' THEN %s", name, x)
	}
	return text + " END"
}
