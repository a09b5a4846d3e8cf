package review

import (
	"context"
	"database/sql"
	"fmt"
	"math"
	"slices"

	"afterfit/internal/store"
	"afterfit/queries"
)

// execFilled is exec for a statement that is filled with data.
func (q *asker) execFilled(ctx context.Context, name string, data any, args ...any) error {
	defer q.watched(name)()
	if _, err := q.c.ExecContext(ctx, queries.Fill(name, data), args...); err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	return nil
}

// eachFilled is each for a statement that is filled with data.
func (q *asker) eachFilled(ctx context.Context, name string, data any, scan func(*sql.Rows) error, args ...any) error {
	defer q.watched(name)()
	rows, err := q.c.QueryContext(ctx, queries.Fill(name, data), args...)
	if err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	defer rows.Close()
	for rows.Next() {
		if err := scan(rows); err != nil {
			return fmt.Errorf("%s: %w", name, err)
		}
	}
	if err := rows.Err(); err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	return nil
}

// eachChunk runs a query and hands its rows on as store.Chunks does: in no order, some two
// thousand at a time.
func (q *asker) eachChunk(ctx context.Context, name string, data any, columns []string, take func(store.Chunk) error) error {
	defer q.watched(name)()
	if err := store.Chunks(ctx, q.c, queries.Fill(name, data), columns, take); err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	return nil
}

// eachWord is eachChunk for a query whose columns are whole numbers; they are lent until take
// returns.
func (q *asker) eachWord(ctx context.Context, name string, data any, columns []string, take func(rows [][]int64)) error {
	rows := make([][]int64, len(columns))
	return q.eachChunk(ctx, name, data, columns, func(c store.Chunk) (err error) {
		for i := range rows {
			if rows[i], err = wholeNumbers(c, i, rows[i]); err != nil {
				return err
			}
		}
		take(rows)
		return nil
	})
}

// wholeNumbers reads a column of which every row has a number.
func wholeNumbers(c store.Chunk, column int, into []int64) ([]int64, error) {
	const none = math.MinInt64
	into = c.Ints(column, into, none)
	if slices.Contains(into, none) {
		return into, fmt.Errorf("a row has no number in column %d", column+1)
	}
	return into, nil
}

// watched tells the asker's watcher, where there is one, that a statement begins, and
// with the function returned that it has ended and its rows are read.
func (q *asker) watched(statement string) (ended func()) {
	if q.watch == nil {
		return func() {}
	}
	return q.watch(statement)
}
