package intake

import (
	"context"
	"database/sql"

	"afterfit/internal/store"
)

// keep moves replaced cases to the history and stores the new rows and the ledger.
func (l *loader) keep(ctx context.Context, c *sql.Conn) error {
	moved := map[string]int64{}
	steps := []func(context.Context, *sql.Conn) error{l.content, l.compare, l.needs, l.record}
	if l.direct {
		steps = []func(context.Context, *sql.Conn) error{l.content, l.record}
	}
	for _, step := range steps {
		if err := step(ctx, c); err != nil {
			return err
		}
	}
	if !l.direct {
		var err error
		if moved, err = retire(ctx, c, l.stages, l.res.LoadID); err != nil {
			return err
		}
	}
	if err := l.storeAll(ctx, c); err != nil {
		return err
	}
	if err := l.settle(ctx, c, moved); err != nil {
		return err
	}
	if err := l.afterwards(ctx, c); err != nil {
		return err
	}
	l.progress("stored", len(l.stages))
	if err := l.unchanged(); err != nil {
		return err
	}
	return l.turnedTotals()
}

// storeAll writes the rows of every table. Threads that write beside one another need not
// hand over to each other in the order of the rows.
func (l *loader) storeAll(ctx context.Context, c *sql.Conn) error {
	if l.direct {
		if err := store.Unordered(ctx, c, true); err != nil {
			return err
		}
	}
	for i, g := range l.stages {
		l.progress("storing", i)
		if err := g.store(ctx, c, l.res.LoadID); err != nil {
			return err
		}
	}
	if l.direct {
		return store.Unordered(ctx, c, false)
	}
	return nil
}

// afterwards does what needs the rows of all tables to be stored.
func (l *loader) afterwards(ctx context.Context, c *sql.Conn) error {
	var err error
	if l.res.Flags, err = flagRows(ctx, c, l.stages, l.res.LoadID); err != nil {
		return err
	}
	if l.someAside() {
		if err := reasons(ctx, c, l.res.LoadID, l.res.Outcomes); err != nil {
			return err
		}
	}
	if l.direct {
		if err := l.risk(ctx, c, storedCases(l.stages)); err != nil {
			return err
		}
	}
	return l.corrected(ctx, c)
}

// nothingNew reports that the load keeps no row and moves none.
func (l *loader) nothingNew() bool {
	for _, b := range l.res.Balance {
		if b.Kept > 0 || b.Superseded > 0 {
			return false
		}
	}
	return true
}
