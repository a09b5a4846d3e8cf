package intake

import (
	"context"
	"database/sql"
	"fmt"
	"strings"

	"afterfit/internal/bundle"
	"afterfit/internal/mapping"
	"afterfit/internal/store"
)

// Balance accounts for the rows of one table in one load, as the ledger keeps it.
type Balance = store.Balance

// special says what the verdicts beside the cell rules mean for this table.
func (g *stage) special() map[int]rule {
	m := map[int]rule{}
	if len(g.t.Key) > 0 {
		m[duplicateKey] = rule{column: g.t.Key[0], reason: "the same key as line %d with other content: keep one of the two rows"}
	}
	if g.t.Parent != "" {
		m[noParent] = rule{column: g.t.ParentBy, reason: "no such row in " + g.t.Parent + ": add it there or take this row out"}
		m[parentAside] = rule{column: g.t.ParentBy, reason: "its row in " + g.t.Parent + " was set aside: mend that row first"}
	}
	if r, ok := g.takenRule(); ok {
		m[takenKey] = r
	}
	return m
}

// noteAside writes every row set aside into the ledger, with its line.
func (g *stage) noteAside(ctx context.Context, c *sql.Conn, load int64) error {
	if g.sheet == nil {
		return nil
	}
	for _, f := range g.sheet.Rejected {
		if _, err := exec(ctx, c, "INSERT INTO main.set_aside VALUES (?, ?, ?, ?, NULL, NULL, ?)", load, f.Table, f.File, f.Line, f.Found+": "+f.Remedy); err != nil {
			return err
		}
	}
	var aside bool
	if g.allSound() {
		return nil
	}
	if err := c.QueryRowContext(ctx, "SELECT count(*) > 0 FROM "+g.table()+" WHERE verdict > 0").Scan(&aside); err != nil || !aside {
		return err
	}
	if err := g.lineTable(ctx, c); err != nil {
		return err
	}
	var column, reason strings.Builder
	add := func(verdict int, r rule) {
		fmt.Fprintf(&column, " WHEN %d THEN %s", verdict, store.Quote(r.column))
		text := store.Quote(r.reason)
		if before, after, cut := strings.Cut(r.reason, "%d"); cut {
			text = store.Quote(before) + " || " + g.lineOf("s.other") + " || " + store.Quote(after)
		}
		if before, after, cut := strings.Cut(r.reason, serialDay); cut {
			text = store.Quote(before) + " || " + dayOf(raw(r.column)) + " || " + store.Quote(after)
		}
		fmt.Fprintf(&reason, " WHEN %d THEN %s", verdict, text)
	}
	for i, r := range g.special() {
		add(i, r)
	}
	for i, r := range g.rules {
		add(firstRule+i, r)
	}
	if g.turned() {
		fmt.Fprintf(&column, " WHEN %d THEN r.%s", notTurned, mapping.ProblemColumn)
		fmt.Fprintf(&reason, " WHEN %d THEN r.%s", notTurned, mapping.ReasonColumn)
	}
	found := fmt.Sprintf("SELECT s.*, CASE s.verdict%s END AS _column, CASE s.verdict%s END AS _why FROM %s s JOIN %s r USING (rec) WHERE s.verdict > 0", column.String(), reason.String(), g.table(), g.rawTable())
	g.asideNoted = true
	steps := []string{
		fmt.Sprintf("CREATE OR REPLACE TEMP TABLE aside_%s AS SELECT s.rec, %s AS file, %s AS line, %s AS word, s._column AS own, left(%s, %d) AS value, s._why AS reason FROM (%s) s JOIN %s r USING (rec)%s",
			g.t.Name, g.fileOf(), g.lineOf("s.rec"), g.wordOf(), g.textOf(), shownRunes, found, g.rawTable(), g.wordJoin()),
		fmt.Sprintf("INSERT INTO main.set_aside SELECT %d, %s, file, line, word, value, reason FROM %s ORDER BY rec", load, store.Quote(g.t.Name), g.asideTable()),
	}
	for _, q := range steps {
		if _, err := exec(ctx, c, q); err != nil {
			return err
		}
	}
	return nil
}

// shiftTable brings the steps from record number to line into temp.shifts.
func (g *stage) shiftTable(ctx context.Context, c *sql.Conn) error {
	if _, err := exec(ctx, c, "CREATE OR REPLACE TEMP TABLE shifts (rec BIGINT, step BIGINT)"); err != nil {
		return err
	}
	const batch = 500
	for at := 0; at < len(g.sheet.Shifts); at += batch {
		var rows []string
		for _, s := range g.sheet.Shifts[at:min(at+batch, len(g.sheet.Shifts))] {
			rows = append(rows, fmt.Sprintf("(%d, %d)", s.Rec, s.Offset))
		}
		if _, err := exec(ctx, c, "INSERT INTO temp.shifts VALUES "+strings.Join(rows, ", ")); err != nil {
			return err
		}
	}
	return nil
}

// lineOf is the SQL that turns a record number into its line in the user's file.
func (g *stage) lineOf(rec string) string {
	if g.turned() {
		return fmt.Sprintf("(SELECT CAST(k.%s AS BIGINT) FROM %s k WHERE k.rec = %s)", mapping.LineColumn, g.rawTable(), rec)
	}
	return fmt.Sprintf("(SELECT %[1]s + max_by(step, rec) FROM temp.shifts k WHERE k.rec <= %[1]s)", rec)
}

// store brings the rows to keep into the store, in one statement: where an INSERT without
// rows came before in the same transaction, DuckDB loses those of a large one.
func (g *stage) store(ctx context.Context, c *sql.Conn, load int64) error {
	if !g.empty() {
		if err := c.QueryRowContext(ctx, "SELECT count(*) FROM "+g.table()+" WHERE verdict IS NULL").Scan(&g.kept); err != nil {
			return err
		}
	}
	var parts []string
	if g.kept > 0 {
		parts = append(parts, fmt.Sprintf("SELECT %s, %d FROM %s WHERE verdict IS NULL", g.columns(), load, g.table()))
	}
	if g.direct && g.sound() > 0 {
		parts = append(parts, g.soundSelect("", fmt.Sprintf(", %d", load)))
		g.kept += g.sound()
	}
	if len(parts) == 0 {
		return nil
	}
	n, err := exec(ctx, c, fmt.Sprintf("INSERT INTO main.%s (%s, load_id) %s", g.t.Name, g.columns(), strings.Join(parts, " UNION ALL ")))
	return g.wasRead(n, g.kept, err)
}

// firstAside reads the first rows that a load set aside, in the order of the contract and
// of the lines, and how many there are beyond them.
func firstAside(ctx context.Context, c *sql.Conn, load int64, limit int) (faults []Fault, more int64, err error) {
	names := make([]string, len(bundle.Tables))
	for i, t := range bundle.Tables {
		names[i] = t.Name
	}
	rows, err := c.QueryContext(ctx, `SELECT table_name, file, line, coalesce(column_name, ''), value, reason, count(*) OVER ()
	FROM main.set_aside WHERE load_id = ? ORDER BY list_position([`+literals(names)+`], table_name), file, line, column_name, value LIMIT ?`, load, limit)
	if err != nil {
		return nil, 0, err
	}
	defer rows.Close()
	faults, total := []Fault{}, int64(0)
	for rows.Next() {
		var f Fault
		var value sql.NullString
		if err := rows.Scan(&f.Table, &f.File, &f.Line, &f.Column, &value, &f.Remedy, &total); err != nil {
			return nil, 0, err
		}
		f.Found = "an empty cell"
		if value.Valid {
			f.Found = shown(value.String)
		}
		if f.Column == "" {
			f.Found, f.Remedy, _ = strings.Cut(f.Remedy, ": ")
		}
		faults = append(faults, f)
	}
	return faults, total - int64(len(faults)), rows.Err()
}
