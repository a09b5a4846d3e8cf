package review

import (
	"context"
	"database/sql"
	"fmt"
	"slices"
)

// casesFor is how many cases are linked at once, about, by the memory of the database in
// bytes. What the joins of one statement hold must be in memory all at once, so that it
// bounds what a link of any size needs: 250 MB were enough for 1,000,000 cases at once, 200
// were not. Every portion looks through all sore spots for its visits, so that there should
// not be many.
func casesFor(memory int64) int { return int(max(fewestLinked, memory/400)) }

// fewestLinked is the least number of cases of a portion that is not the last.
const fewestLinked = 200_000

// portionMarks is how many cases are looked at for each portion to find where it ends.
const portionMarks = 200

// inPortions makes a step go through the cases that are to be linked portion by portion,
// in the order of their keys: exports mostly come in that order, so that a portion is read
// from few blocks.
func (l *linker) inPortions(step func(context.Context) error) func(context.Context) error {
	return func(ctx context.Context) error {
		ends, err := l.portions(ctx)
		if err != nil {
			return err
		}
		from := ""
		for i, to := range append(ends, "") {
			l.later = i > 0
			if len(ends) > 0 {
				if err := l.due(ctx, from, to); err != nil {
					return err
				}
			}
			if err := step(ctx); err != nil {
				return err
			}
			from = to
		}
		l.later = false
		if len(ends) > 0 {
			return l.due(ctx, "", "")
		}
		return nil
	}
}

// portions gives the first case of every portion but the first.
func (l *linker) portions(ctx context.Context) ([]string, error) {
	var cases int
	if err := l.c.QueryRowContext(ctx, "SELECT count(*) FROM due_cases").Scan(&cases); err != nil {
		return nil, err
	}
	n := (cases + l.portion - 1) / l.portion
	if n < 2 {
		return nil, nil
	}
	marks, err := l.marks(ctx, max(1, cases/n/portionMarks))
	if err != nil {
		return nil, err
	}
	var ends []string
	for i := 1; i < n && len(marks) > 0; i++ {
		ends = append(ends, marks[i*len(marks)/n])
	}
	return slices.Compact(ends), nil
}

// marks gives about one in so many of the cases to be linked, in order.
func (l *linker) marks(ctx context.Context, oneIn int) (marks []string, err error) {
	rows, err := l.c.QueryContext(ctx, fmt.Sprintf("SELECT case_id FROM due_cases WHERE hash(case_id) %% %d = 0", oneIn))
	if err != nil {
		return nil, err
	}
	defer func(rows *sql.Rows) { _ = rows.Close() }(rows)
	for rows.Next() {
		var m string
		if err := rows.Scan(&m); err != nil {
			return nil, err
		}
		marks = append(marks, m)
	}
	slices.Sort(marks)
	return marks, rows.Err()
}
