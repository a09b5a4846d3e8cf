package review

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"errors"
	"fmt"
	"io"

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

// eachWord runs a query whose columns are whole numbers and hands every row on. It goes
// past database/sql, whose scanning costs several times as much as reading.
func (q *asker) eachWord(ctx context.Context, name string, data any, columns int, take func([]int64)) error {
	defer q.watched(name)()
	err := q.c.Raw(func(conn any) error {
		rows, err := conn.(driver.QueryerContext).QueryContext(ctx, queries.Fill(name, data), nil)
		if err != nil {
			return err
		}
		dest, row := make([]driver.Value, columns), make([]int64, columns)
		for n := 0; ; n++ {
			if err := rows.Next(dest); err != nil {
				if errors.Is(err, io.EOF) {
					err = nil
				}
				return errors.Join(err, rows.Close())
			}
			if n%65536 == 0 && ctx.Err() != nil {
				return errors.Join(ctx.Err(), rows.Close())
			}
			for i, v := range dest {
				row[i] = v.(int64)
			}
			take(row)
		}
	})
	if err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	return nil
}

// watched tells the asker's watcher, where there is one, that a statement begins, and
// with the function returned that it has ended and its rows are read.
func (q *asker) watched(statement string) (ended func()) {
	if q.watch == nil {
		return func() {}
	}
	return q.watch(statement)
}
