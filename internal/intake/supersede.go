package intake

import (
	"context"
	"database/sql"
	"fmt"
	"path/filepath"
	"strings"

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

// cases counts cases that the store had before the load.
type cases struct {
	changed, same, withdrawn int64
	held                     int64 // as in the latest export, and corrected since
}

// compare sorts the cases that the store already has and counts them.
func (l *loader) compare(ctx context.Context, c *sql.Conn) error {
	n, err := compare(ctx, c, l.stages, l.res.Note.Complete)
	l.res.CasesChanged, l.res.CasesUnchanged, l.res.CasesWithdrawn, l.res.CasesHeld = n.changed, n.same, n.withdrawn, n.held
	return err
}

// compare sorts the cases that the store already has: temp.gone are those whose rows move
// to the history (changed or withdrawn), temp.same those whose rows stay as they are.
// Each table here is made by one statement, as stage.store says.
func compare(ctx context.Context, c *sql.Conn, stages []*stage, complete bool) (n cases, err error) {
	withdrawn := "SELECT case_id, true AS withdrawn FROM main.cases WHERE false"
	if complete {
		withdrawn = "SELECT case_id, true AS withdrawn FROM main.cases WHERE case_id NOT IN (SELECT case_id FROM temp.st_cases WHERE case_id IS NOT NULL)"
	}
	if _, err := exec(ctx, c, "CREATE OR REPLACE TEMP TABLE same AS SELECT case_id FROM main.cases WHERE case_id IN (SELECT case_id FROM temp.st_cases WHERE verdict IS NULL)"); err != nil {
		return n, err
	}
	known := false
	if err := c.QueryRowContext(ctx, "SELECT EXISTS (FROM temp.same)").Scan(&known); err != nil {
		return n, err
	}
	if !known {
		_, err = exec(ctx, c, "CREATE OR REPLACE TEMP TABLE gone AS "+withdrawn)
		if err == nil {
			err = c.QueryRowContext(ctx, "SELECT count(*) FROM temp.gone").Scan(&n.withdrawn)
		}
		return n, err
	}
	return compareRows(ctx, c, stages, withdrawn)
}

// content brings into temp.content what the export says of every case of the load: the
// look-through summed it, or for rows that are all judged it is worked out here.
func (l *loader) content(ctx context.Context, c *sql.Conn) error {
	if l.contentOf = "temp.content"; l.sieve == nil {
		return content(ctx, c, l.stages)
	}
	path := filepath.Join(l.scratch, "content.csv")
	if err := l.sieve.writeContent(path); err != nil {
		return err
	}
	l.sieve = nil
	l.giveBack()
	l.contentOf = csvRows(path, nil, []string{"case_id", "content"}, nil)
	if l.direct {
		return nil // nothing is compared
	}
	_, err := exec(ctx, c, "CREATE OR REPLACE TEMP TABLE content AS SELECT case_id, content FROM "+l.contentOf)
	l.contentOf = "temp.content"
	return err
}

// content works out for every case of the load what the export says of it: a sum
// over 64 bits of the MD5 of each row as read, so that neither their order nor the
// number of threads shows. Rows that are set aside count too. Two versions of a case
// that an accident made look alike would be one in 10^19.
func content(ctx context.Context, c *sql.Conn, stages []*stage) error {
	var parts []string
	for _, g := range stages {
		cells := make([]string, len(g.t.Columns))
		for i, name := range g.t.Names() {
			cells[i] = fmt.Sprintf("coalesce(length(x.%[1]s) || ':' || x.%[1]s, '-')", name)
		}
		owner, from := "x.case_id", g.rawTable()+" x"
		if g.t.Parent == "visits" {
			owner, from = "v.case_id", g.rawTable()+" x JOIN (SELECT visit_id, min(case_id) AS case_id FROM temp.raw_visits GROUP BY visit_id) v USING (visit_id)"
		}
		parts = append(parts, fmt.Sprintf("SELECT %s AS case_id, '%s' || %s AS row FROM %s WHERE %[1]s IS NOT NULL", owner, g.t.Name, strings.Join(cells, " || ','  || "), from))
	}
	_, err := exec(ctx, c, "CREATE OR REPLACE TEMP TABLE content AS SELECT case_id, CAST(sum(md5_number_lower(row)) AS VARCHAR) AS content FROM ("+strings.Join(parts, " UNION ALL ")+") GROUP BY case_id")
	return err
}

// lastSeen is the SQL of what the latest standing export said of each case of temp.lost.
// A bundle of corrected rows is no export of its cases.
const lastSeen = "SELECT case_id, arg_max(content, load_id) AS content FROM main.seen WHERE case_id IN (SELECT case_id FROM temp.lost) AND " + store.Standing + " GROUP BY case_id"

// holdSQL makes temp.held of the cases with a row in the store that the export does not
// have, of which the export says what the latest one said too, and whose other rows all
// stand in the store: what the store has beyond them are corrections, which an export
// that does not know them leaves alone.
const holdSQL = `CREATE OR REPLACE TEMP TABLE held AS SELECT DISTINCT g.case_id FROM temp.lost g JOIN temp.content n USING (case_id) JOIN (` + lastSeen + `) l USING (case_id)
	WHERE n.content = l.content AND g.case_id NOT IN (SELECT case_id FROM temp.gained)`

// anyKnown reports whether the load touches a case that the store already has.
func anyKnown(ctx context.Context, c *sql.Conn) (known bool, err error) {
	err = c.QueryRowContext(ctx, "SELECT count(*) > 0 FROM (SELECT case_id FROM temp.same UNION ALL SELECT case_id FROM temp.gone)").Scan(&known)
	return known, err
}

// compareRows compares the rows of the cases of temp.same with those of the store. Those
// with any difference go to temp.gone, but for those whose difference is a correction.
// temp.gained are the cases with a row that the store does not have, temp.lost those
// without one that it has.
func compareRows(ctx context.Context, c *sql.Conn, stages []*stage, withdrawn string) (n cases, err error) {
	var gained, lost []string
	for _, g := range stages {
		was := caseRows(g.t, "main."+g.t.Name, "main.visits", "owner IN (SELECT case_id FROM temp.same)")
		is := caseRows(g.t, g.table(), "(SELECT * FROM temp.st_visits WHERE verdict IS NULL)", "x.verdict IS NULL AND owner IN (SELECT case_id FROM temp.same)")
		gained = append(gained, fmt.Sprintf("SELECT DISTINCT owner FROM ((%s) EXCEPT (%s))", is, was))
		lost = append(lost, fmt.Sprintf("SELECT DISTINCT owner FROM ((%s) EXCEPT (%s))", was, is))
	}
	made := func(table string, parts []string) string {
		return "CREATE OR REPLACE TEMP TABLE " + table + " AS SELECT DISTINCT owner AS case_id FROM (" + strings.Join(parts, " UNION ALL ") + ")"
	}
	for _, q := range []string{
		made("gained", gained), made("lost", lost), holdSQL,
		"CREATE OR REPLACE TEMP TABLE gone AS " + withdrawn + " UNION ALL SELECT case_id, false FROM (SELECT case_id FROM temp.gained UNION SELECT case_id FROM temp.lost) WHERE case_id NOT IN (SELECT case_id FROM temp.held)",
		"DELETE FROM temp.same WHERE case_id IN (SELECT case_id FROM temp.gone)",
	} {
		if _, err := exec(ctx, c, q); err != nil {
			return n, err
		}
	}
	err = c.QueryRowContext(ctx, `SELECT (SELECT count(DISTINCT case_id) FROM temp.gone WHERE NOT withdrawn),
	(SELECT count(*) FROM temp.same), (SELECT count(*) FROM temp.gone WHERE withdrawn), (SELECT count(*) FROM temp.held)`).Scan(&n.changed, &n.same, &n.withdrawn, &n.held)
	n.same -= n.held
	return n, err
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
