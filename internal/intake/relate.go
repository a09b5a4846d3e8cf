package intake

import (
	"context"
	"database/sql"
	"fmt"
	"strings"
)

// doubles marks repeats of whole rows and rows that share a key with a different
// row. Only groups that do share a key are looked at closely.
func (g *stage) doubles(ctx context.Context, c *sql.Conn) error {
	key := g.t.Key
	if len(key) == 0 {
		key = g.t.Names()
	}
	keys := strings.Join(key, ", ")
	groups := fmt.Sprintf("SELECT %s FROM %s WHERE verdict IS NULL AND rec IS NOT NULL GROUP BY ALL HAVING count(*) > 1", keys, g.table())
	var any bool
	if err := c.QueryRowContext(ctx, "SELECT count(*) > 0 FROM ("+groups+")").Scan(&any); err != nil || !any {
		return err
	}
	same := make([]string, len(key))
	for i, k := range key {
		same[i] = fmt.Sprintf("s.%[1]s IS NOT DISTINCT FROM d.%[1]s", k)
	}
	suspects := fmt.Sprintf(`CREATE OR REPLACE TEMP TABLE suspects AS SELECT s.rec, row_number() OVER (PARTITION BY %s ORDER BY s.rec) AS copy, %s
	FROM %s s JOIN (%s) d ON %s WHERE s.verdict IS NULL AND s.rec IS NOT NULL`,
		g.prefixed("s"), "s."+strings.Join(key, ", s."), g.table(), groups, strings.Join(same, " AND "))
	steps := []string{suspects,
		fmt.Sprintf("UPDATE %s AS s SET verdict = %d FROM temp.suspects d WHERE s.rec = d.rec AND d.copy > 1", g.table(), repeat)}
	if len(g.t.Key) > 0 {
		steps = append(steps, fmt.Sprintf(`UPDATE %s AS s SET verdict = %d, other = CASE WHEN d.rec = d.first THEN d.last ELSE d.first END
	FROM (SELECT rec, count(*) OVER w AS n, min(rec) OVER w AS first, max(rec) OVER w AS last FROM temp.suspects WHERE copy = 1 WINDOW w AS (PARTITION BY %s)) d
	WHERE s.rec = d.rec AND d.n > 1`, g.table(), duplicateKey, keys))
	}
	for _, q := range append(steps, "DROP TABLE temp.suspects") {
		if _, err := exec(ctx, c, q); err != nil {
			return err
		}
	}
	return nil
}

// orphans sets aside the rows whose parent is not in this load or was set aside.
func (g *stage) orphans(ctx context.Context, c *sql.Conn) error {
	if g.t.Parent == "" {
		return nil
	}
	by := g.t.ParentBy
	_, err := exec(ctx, c, fmt.Sprintf(`UPDATE %s SET verdict = CASE WHEN %[2]s IN (SELECT %[2]s FROM temp.raw_%[6]s WHERE %[2]s IS NOT NULL) THEN %[4]d ELSE %[5]d END
	WHERE verdict IS NULL AND NOT sure AND %[2]s NOT IN (%[3]s)`, g.table(), by, g.parents(), parentAside, noParent, g.t.Parent))
	return err
}

// taken judges rows by what the store has: those of an addition, and visits whose number an earlier load gave to a case that stays.
func (g *stage) taken(complete bool) func(context.Context, *sql.Conn) error {
	return func(ctx context.Context, c *sql.Conn) error {
		if g.adds {
			return g.known(ctx, c)
		}
		if g.t.Name != "visits" || g.direct {
			return nil
		}
		stays := "case_id NOT IN (SELECT case_id FROM temp.st_cases WHERE verdict IS NULL)"
		if complete {
			stays += " AND case_id IN (SELECT case_id FROM temp.st_cases)"
		}
		_, err := exec(ctx, c, fmt.Sprintf("UPDATE %s SET verdict = %d WHERE verdict IS NULL AND rec IS NOT NULL AND visit_id IN (SELECT visit_id FROM main.visits WHERE %s)", g.table(), takenKey, stays))
		return err
	}
}
