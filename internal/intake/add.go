package intake

import (
	"context"
	"database/sql"
	"fmt"
	"strings"
)

// An export whose note says adds = true brings single rows to cases that the store
// has already: rows set aside earlier and corrected since. It may lack any table,
// its rows may hang on rows in the store, and it replaces nothing. A row that the
// store has already is a repeat; one with the key of another row is set aside.

// known gives the verdict on rows that the store has, or has otherwise.
func (g *stage) known(ctx context.Context, c *sql.Conn) error {
	same := func(columns []string) string {
		parts := make([]string, len(columns))
		for i, name := range columns {
			parts[i] = fmt.Sprintf("m.%[1]s IS NOT DISTINCT FROM s.%[1]s", name)
		}
		return strings.Join(parts, " AND ")
	}
	mark := "UPDATE %s AS s SET verdict = %d WHERE verdict IS NULL AND EXISTS (SELECT 1 FROM main.%s m WHERE %s)"
	if _, err := exec(ctx, c, fmt.Sprintf(mark, g.table(), repeat, g.t.Name, same(g.t.Names()))); err != nil || len(g.t.Key) == 0 {
		return err
	}
	_, err := exec(ctx, c, fmt.Sprintf(mark, g.table(), takenKey, g.t.Name, same(g.t.Key)))
	return err
}

// parents is the SQL that lists where a parent may stand: among this load's rows,
// and for an addition in the store too.
func (g *stage) parents() string {
	q := fmt.Sprintf("SELECT %s FROM temp.st_%s WHERE verdict IS NULL", g.t.ParentBy, g.t.Parent)
	if g.adds {
		q += fmt.Sprintf(" UNION ALL SELECT %s FROM main.%s", g.t.ParentBy, g.t.Parent)
	}
	return q
}

// takenRule says what is wrong with a row whose key the store has.
func (g *stage) takenRule() (rule, bool) {
	switch {
	case g.adds && len(g.t.Key) > 0:
		return rule{column: g.t.Key[0], reason: "the store has another row of this key: take this row out, or load the whole case again"}, true
	case g.t.Name == "visits":
		return rule{column: "visit_id", reason: "a visit of another case in the store has this number: make it unique"}, true
	}
	return rule{}, false
}
