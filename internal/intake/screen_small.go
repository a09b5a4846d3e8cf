package intake

import (
	"context"
	"database/sql"
	"fmt"
	"hash/maphash"
	"strings"

	"afterfit/internal/privacy"
)

// smallTable is the most rows of a table whose columns are screened by one statement.
// With so few a statement for each column takes longer to plan than to run.
const smallTable = 10_000

// screened is a column to look through, and the SQL of its cells in row r of its table.
type screened struct {
	what privacy.Column
	cell string
}

// screenAll looks through columns of a table of so many rows, and gives the findings of
// each. All cells must be text.
func screenAll(ctx context.Context, c *sql.Conn, basis privacy.Basis, table string, rows int64, cols []screened) ([][]privacy.Finding, error) {
	found := make([][]privacy.Finding, len(cols))
	if rows > smallTable {
		for i, col := range cols {
			var err error
			if found[i], err = screenColumn(ctx, c, basis, col.what, table+" r WHERE true", col.cell); err != nil {
				return nil, err
			}
		}
		return found, nil
	}
	gathered, err := gather(ctx, c, table, cols)
	if err != nil {
		return nil, err
	}
	for i, col := range cols {
		found[i], _ = screenSifted(basis, col.what, gathered[i])
	}
	return found, nil
}

// gather fetches the distinct values of columns of a small table.
func gather(ctx context.Context, c *sql.Conn, table string, cols []screened) ([]*spans, error) {
	list, cells := make([]*spans, len(cols)), make([]string, len(cols))
	seed := maphash.MakeSeed()
	for i, col := range cols {
		list[i], cells[i] = newSpans(seed), col.cell
	}
	if len(cols) == 0 {
		return list, nil
	}
	rows, err := c.QueryContext(ctx, fmt.Sprintf("SELECT i, x, count(*) FROM (SELECT unnest(range(%d)) AS i, unnest([%s]) AS x FROM %s r) WHERE x <> '' GROUP BY ALL", len(cells), strings.Join(cells, ", "), table))
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var cell []byte
	for rows.Next() {
		var i, n int64
		var text sql.RawBytes
		if err := rows.Scan(&i, &text, &n); err != nil {
			return nil, err
		}
		cell = append(cell[:0], text...)
		list[i].addRows(cell, n, false, false)
	}
	return list, rows.Err()
}
