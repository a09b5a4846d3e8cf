package intake

import (
	"context"
	"database/sql"
	"fmt"

	"afterfit/internal/bundle"
	"afterfit/internal/store"
)

// caseRows is a query for a table's rows with the case that each belongs to:
// sore spots hang on visits, everything else names its case. The first column is owner.
func caseRows(t bundle.Table, rows, visits, where string) string {
	if t.Parent != "visits" {
		return fmt.Sprintf("SELECT x.case_id AS owner, %s FROM %s x WHERE %s", (&stage{t: t}).prefixed("x"), rows, where)
	}
	return fmt.Sprintf("SELECT v.case_id AS owner, %s FROM %s x JOIN %s v USING (visit_id) WHERE %s", (&stage{t: t}).prefixed("x"), rows, visits, where)
}

// compare sorts the cases that the store already has: temp.gone are those whose
// rows move to the history (changed or withdrawn), temp.same those whose rows are
// all as they were.
func compare(ctx context.Context, c *sql.Conn, stages []*stage, complete bool) (changed, same, withdrawn int64, err error) {
	withdraw := "false"
	if complete {
		withdraw = "true"
	}
	steps := []string{
		"CREATE OR REPLACE TEMP TABLE same AS SELECT case_id FROM main.cases WHERE case_id IN (SELECT case_id FROM temp.st_cases WHERE verdict IS NULL)",
		"CREATE OR REPLACE TEMP TABLE gone AS SELECT case_id, true AS withdrawn FROM main.cases WHERE " + withdraw +
			" AND case_id NOT IN (SELECT case_id FROM temp.raw_cases WHERE case_id IS NOT NULL)",
	}
	for _, q := range steps {
		if _, err := exec(ctx, c, q); err != nil {
			return 0, 0, 0, err
		}
	}
	if known, err := anyKnown(ctx, c); err != nil || !known {
		return 0, 0, 0, err
	}
	return compareRows(ctx, c, stages)
}

// anyKnown reports whether the load touches a case that the store already has.
func anyKnown(ctx context.Context, c *sql.Conn) (known bool, err error) {
	err = c.QueryRowContext(ctx, "SELECT count(*) > 0 FROM (SELECT case_id FROM temp.same UNION ALL SELECT case_id FROM temp.gone)").Scan(&known)
	return known, err
}

// compareRows moves the cases of temp.same with any different row to temp.gone.
func compareRows(ctx context.Context, c *sql.Conn, stages []*stage) (changed, same, withdrawn int64, err error) {
	var steps []string
	for _, g := range stages {
		was := caseRows(g.t, "main."+g.t.Name, "main.visits", "owner IN (SELECT case_id FROM temp.same)")
		is := caseRows(g.t, g.table(), "(SELECT * FROM temp.st_visits WHERE verdict IS NULL)", "x.verdict IS NULL AND owner IN (SELECT case_id FROM temp.same)")
		steps = append(steps, fmt.Sprintf(`INSERT INTO temp.gone SELECT DISTINCT owner, false FROM ((%[1]s) EXCEPT (%[2]s) UNION ALL ((%[2]s) EXCEPT (%[1]s)))`, was, is))
	}
	steps = append(steps, "DELETE FROM temp.same WHERE case_id IN (SELECT case_id FROM temp.gone)")
	for _, q := range steps {
		if _, err := exec(ctx, c, q); err != nil {
			return 0, 0, 0, err
		}
	}
	err = c.QueryRowContext(ctx, `SELECT (SELECT count(DISTINCT case_id) FROM temp.gone WHERE NOT withdrawn),
	(SELECT count(*) FROM temp.same), (SELECT count(*) FROM temp.gone WHERE withdrawn)`).Scan(&changed, &same, &withdrawn)
	return changed, same, withdrawn, err
}

// retire moves the rows of the cases that are gone into the history, children
// first, and counts the rows of cases that stayed the same as repeats.
func retire(ctx context.Context, c *sql.Conn, stages []*stage, load int64) (map[string]int64, error) {
	moved := map[string]int64{}
	if known, err := anyKnown(ctx, c); err != nil || !known {
		return moved, err
	}
	for i := len(stages) - 1; i >= 0; i-- {
		g := stages[i]
		of := func(cases string) string {
			if g.t.Parent == "visits" {
				return "visit_id IN (SELECT visit_id FROM %s WHERE case_id IN (SELECT case_id FROM " + cases + "))"
			}
			return "case_id IN (SELECT case_id FROM " + cases + ")"
		}
		inStore, staged := of("temp.gone"), of("temp.same")
		if g.t.Parent == "visits" {
			inStore, staged = fmt.Sprintf(inStore, "main.visits"), fmt.Sprintf(staged, "temp.st_visits")
		}
		n, err := exec(ctx, c, fmt.Sprintf("INSERT INTO %s.%s SELECT *, %d FROM main.%s WHERE %s", store.History, g.t.Name, load, g.t.Name, inStore))
		if err != nil {
			return nil, err
		}
		moved[g.t.Name] = n
		if _, err := exec(ctx, c, fmt.Sprintf("DELETE FROM main.%s WHERE %s", g.t.Name, inStore)); err != nil {
			return nil, err
		}
		if _, err := exec(ctx, c, fmt.Sprintf("UPDATE %s SET verdict = %d WHERE verdict IS NULL AND %s", g.table(), repeat, staged)); err != nil {
			return nil, err
		}
	}
	return moved, nil
}
