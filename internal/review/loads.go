package review

import (
	"context"
	"database/sql"

	"afterfit/queries"
)

// standing is a load that stands, as the ledger says of it.
type standing struct {
	id                 int64
	content, basis     sql.NullString
	invented, complete sql.NullBool
}

// standingLoads reads the loads that stand, in the order of their numbers.
func standingLoads(ctx context.Context, db interface {
	QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error)
}) ([]standing, error) {
	rows, err := db.QueryContext(ctx, queries.Text("ask_loads"))
	if err != nil {
		return nil, err
	}
	defer func() { _ = rows.Close() }() // only read from
	var out []standing
	for rows.Next() {
		var l standing
		var source sql.NullString
		if err := rows.Scan(&l.id, &source, &l.content, &l.basis, &l.invented, &l.complete); err != nil {
			return nil, err
		}
		out = append(out, l)
	}
	return out, rows.Err()
}
