package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
)

// Bulk lets the database work with at most so many threads until done is called, which must
// be after a transaction. Many rows are written with less effort by few threads: whoever
// asks for a statement asks again and again whether it is done, and so takes up a core for
// as long as another thread does the work.
func (s *Store) Bulk(ctx context.Context, threads int) (done func() error, err error) {
	had := 0
	if err := s.db.QueryRowContext(ctx, "SELECT current_setting('threads')").Scan(&had); err != nil {
		return nil, err
	}
	if _, err := s.db.ExecContext(ctx, fmt.Sprintf("SET threads=%d", max(1, min(threads, had)))); err != nil {
		return nil, err
	}
	return func() error {
		ctx := context.WithoutCancel(ctx)
		_, err := s.db.ExecContext(ctx, fmt.Sprintf("SET threads=%d", had))
		if err = errors.Join(err, Unordered(ctx, s.db, false)); err != nil {
			return fmt.Errorf("the database kept its settings for many rows: %w", err)
		}
		return nil
	}, nil
}

// Unordered frees statements from keeping rows in order until ordered is called, as the
// function of that name does within a transaction.
func (s *Store) Unordered(ctx context.Context) (ordered func() error, err error) {
	if err := Unordered(ctx, s.db, true); err != nil {
		return nil, err
	}
	return func() error { return Unordered(context.WithoutCancel(ctx), s.db, false) }, nil
}

// Unordered frees the statements that follow from keeping rows in the order in which they
// came, or holds them to it again. To keep it, DuckDB gathers rows in pieces, and packs
// many of them twice. The end of Bulk holds statements to the order whatever came between.
func Unordered(ctx context.Context, db interface {
	ExecContext(ctx context.Context, query string, args ...any) (sql.Result, error)
}, free bool) error {
	_, err := db.ExecContext(ctx, fmt.Sprintf("SET preserve_insertion_order=%t", !free))
	return err
}
