package store

import (
	"context"
	"database/sql"
	"fmt"
	"slices"
	"strings"
	"time"

	"afterfit/internal/bundle"
)

// UndoRefusal says why a load cannot be undone. Nothing was changed.
type UndoRefusal struct {
	Load   int64
	Found  string
	Remedy string
}

// Error writes FOUND: REMEDY.
func (r *UndoRefusal) Error() string {
	return fmt.Sprintf("load %d cannot be undone: %s: %s", r.Load, r.Found, r.Remedy)
}

// Undone counts what undoing a load did.
type Undone struct {
	LoadID int64         `json:"load_id"`
	Tables []UndoneTable `json:"tables"` // in the order of the contract
}

// UndoneTable counts the rows of one table: those of the load, taken out, and
// those that it had moved to the history, put back.
type UndoneTable struct {
	Table    string `json:"table"`
	TakenOut int64  `json:"taken_out"`
	PutBack  int64  `json:"put_back"`
}

// Undo takes a load back in one transaction: its rows go, the rows that it moved
// to the history come back with the number of the load that brought them, and the
// content is as before the load. The ledger keeps the load, its balance and the
// moment of the undoing (zero = not noted); the cells of its rows set aside and of
// its flags go. A load that a later one builds on is refused: an UndoRefusal.
func (s *Store) Undo(ctx context.Context, load int64, at time.Time) (*Undone, error) {
	u := &Undone{LoadID: load, Tables: []UndoneTable{}}
	err := s.Tx(ctx, func(ctx context.Context, c *sql.Conn) error {
		if err := mayUndo(ctx, c, load); err != nil {
			return err
		}
		if err := noteUnlinked(ctx, c, load); err != nil {
			return err
		}
		for _, t := range bundle.Tables {
			n, err := takeBack(ctx, c, t, load)
			if err != nil {
				return err
			}
			u.Tables = append(u.Tables, n)
		}
		for _, table := range []string{"set_aside", "flags", "seen", "corrected"} {
			if _, err := c.ExecContext(ctx, "DELETE FROM main."+table+" WHERE load_id = ?", load); err != nil {
				return err
			}
		}
		var moment any
		if !at.IsZero() {
			moment = at.UTC()
		}
		if _, err := c.ExecContext(ctx, "INSERT INTO main.undone VALUES (?, ?)", load, moment); err != nil {
			return err
		}
		return soundAfter(ctx, c)
	})
	if err != nil {
		return nil, err
	}
	return u, s.Checkpoint(context.WithoutCancel(ctx))
}

// mayUndo refuses a load that is not there, was undone before, or is built on.
func mayUndo(ctx context.Context, c *sql.Conn, load int64) error {
	var known, undone bool
	q := "SELECT count(*) > 0, count(*) FILTER (load_id IN (SELECT load_id FROM main.undone)) > 0 FROM main.loads WHERE load_id = ?"
	if err := c.QueryRowContext(ctx, q, load).Scan(&known, &undone); err != nil {
		return err
	}
	switch {
	case !known:
		return &UndoRefusal{load, "there is no such load", "'afterfit load --list' lists them"}
	case undone:
		return &UndoRefusal{load, "it was undone before", "load its export again if it was right after all"}
	}
	later, err := numbers(ctx, c, dependents(), load)
	if err != nil || len(later) == 0 {
		return err
	}
	words := make([]string, len(later))
	for i, n := range later {
		words[i] = fmt.Sprintf("load %d", n)
	}
	builds, them := "builds on it (it repeats, replaces or adds to what this one brought)", "it first"
	if len(later) > 1 {
		builds, them = "build on it (they repeat, replace or add to what this one brought)", "them first, the latest before the others"
	}
	return &UndoRefusal{load, strings.Join(words, ", ") + " " + builds, "undo " + them}
}

// dependents is the SQL of the later loads that build on load $1, the latest first:
// what they wrote down themselves, what the rows show, and every later load of a
// program that wrote nothing down.
func dependents() string {
	parts := []string{
		"SELECT load_id FROM main.load_needs WHERE on_load = $1",
		"SELECT load_id FROM main.loads WHERE load_id > $1 AND load_id NOT IN (SELECT load_id FROM main.load_notes)",
	}
	for _, t := range bundle.Tables {
		parts = append(parts, fmt.Sprintf("SELECT superseded_by FROM %s.%s WHERE load_id = $1", History, t.Name))
		if t.Parent != "" {
			parts = append(parts, fmt.Sprintf("SELECT x.load_id FROM main.%[1]s x JOIN main.%[2]s p USING (%[3]s) WHERE p.load_id = $1", t.Name, t.Parent, t.ParentBy))
		}
		if len(t.Key) > 0 { // a key that the load freed and a later one took
			parts = append(parts, fmt.Sprintf("SELECT x.load_id FROM main.%[1]s x JOIN %[2]s.%[1]s h USING (%[3]s) WHERE h.superseded_by = $1", t.Name, History, strings.Join(t.Key, ", ")))
		}
	}
	return "SELECT DISTINCT load_id FROM (" + strings.Join(parts, " UNION ALL ") + ") WHERE load_id > $1 AND " + Standing + " ORDER BY 1 DESC"
}

func numbers(ctx context.Context, c *sql.Conn, q string, args ...any) (out []int64, err error) {
	rows, err := c.QueryContext(ctx, q, args...)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	for rows.Next() {
		var n int64
		if err := rows.Scan(&n); err != nil {
			return nil, err
		}
		out = append(out, n)
	}
	return out, rows.Err()
}

// takeBack takes the rows of a load out of a table and puts back those that it
// moved to the history.
func takeBack(ctx context.Context, c *sql.Conn, t bundle.Table, load int64) (UndoneTable, error) {
	n := UndoneTable{Table: t.Name}
	columns := strings.Join(append(slices.Clone(t.Names()), "load_id"), ", ")
	for _, step := range []struct {
		q     string
		count *int64
	}{
		{fmt.Sprintf("DELETE FROM main.%s WHERE load_id = ?", t.Name), &n.TakenOut},
		{fmt.Sprintf("INSERT INTO main.%[1]s (%[2]s) SELECT %[2]s FROM %[3]s.%[1]s WHERE superseded_by = ?", t.Name, columns, History), &n.PutBack},
		{fmt.Sprintf("DELETE FROM %s.%s WHERE superseded_by = ?", History, t.Name), nil},
	} {
		res, err := c.ExecContext(ctx, step.q, load)
		if err != nil {
			return n, fmt.Errorf("undo %s: %w", t.Name, err)
		}
		if step.count != nil {
			if *step.count, err = res.RowsAffected(); err != nil {
				return n, err
			}
		}
	}
	return n, nil
}

// soundAfter puts the questions of Verify to the store inside the transaction: an
// undoing that would leave it unsound is rolled back.
func soundAfter(ctx context.Context, c *sql.Conn) error {
	rows, err := countRows(ctx, c)
	if err != nil {
		return err
	}
	for _, t := range bundle.Tables {
		wrong, err := rows.unsound(ctx, c, t)
		if err != nil {
			return err
		}
		if len(wrong) > 0 {
			return fmt.Errorf("the undoing would leave %s with %d %s; nothing was changed", t.Name, wrong[0].n, wrong[0].found)
		}
	}
	return nil
}
