package intake

import (
	"context"
	"database/sql"
	"fmt"
	"slices"
	"strings"

	"afterfit/internal/store"
)

// settle counts what became of every row, by file and by table, and writes that into the
// ledger. What was kept and what was set aside is counted from the store's own tables; a
// balance that does not hold fails the load. All tables share each statement: planning is
// most of what so small ones take.
func (l *loader) settle(ctx context.Context, c *sql.Conn, superseded map[string]int64) error {
	repeats, err := l.outcomes(ctx, c)
	if err != nil {
		return err
	}
	kept, aside, err := countStored(ctx, c, l.stages, l.res.LoadID)
	if err != nil {
		return err
	}
	var rows [][]any
	for _, g := range l.stages {
		b := Balance{Table: g.t.Name, Kept: kept[g.t.Name], SetAside: aside[g.t.Name], Repeats: repeats[g.t.Name], Superseded: superseded[g.t.Name]}
		if g.sheet != nil {
			b.Read = g.sheet.Records + int64(len(g.sheet.Rejected))
		}
		if !b.Holds() {
			return fmt.Errorf("the balance of %s does not hold: %d rows read, %d kept, %d set aside, %d repeats; nothing was stored", b.Table, b.Read, b.Kept, b.SetAside, b.Repeats)
		}
		l.res.Balance = append(l.res.Balance, b)
		rows = append(rows, []any{l.res.LoadID, b.Table, b.Read, b.Kept, b.SetAside, b.Repeats, b.Superseded})
	}
	return insertAll(ctx, c, "balance", rows)
}

// countStored counts the rows of a load in the store's tables, and those that it set aside.
func countStored(ctx context.Context, c *sql.Conn, stages []*stage, load int64) (kept, aside map[string]int64, err error) {
	parts := []string{fmt.Sprintf("SELECT true AS away, table_name AS name, count(*) AS n FROM main.set_aside WHERE load_id = %d GROUP BY table_name", load)}
	for _, g := range stages {
		parts = append(parts, fmt.Sprintf("SELECT false, '%[1]s', count(*) FROM main.%[1]s WHERE load_id = %[2]d", g.t.Name, load))
	}
	rows, err := c.QueryContext(ctx, strings.Join(parts, " UNION ALL "))
	if err != nil {
		return nil, nil, err
	}
	defer rows.Close()
	kept, aside = map[string]int64{}, map[string]int64{}
	for rows.Next() {
		var away bool
		var name string
		var n int64
		if err := rows.Scan(&away, &name, &n); err != nil {
			return nil, nil, err
		}
		if away {
			aside[name] = n
		} else {
			kept[name] = n
		}
	}
	return kept, aside, rows.Err()
}

// outcomes counts for every file and table what became of its rows, writes that into the
// ledger, and gives the repeats of each table.
func (l *loader) outcomes(ctx context.Context, c *sql.Conn) (repeats map[string]int64, err error) {
	judged, err := countFiles(ctx, c, l.stages)
	if err != nil {
		return nil, err
	}
	repeats = map[string]int64{}
	var rows [][]any
	for _, g := range l.stages {
		if g.sheet == nil {
			continue
		}
		for _, o := range judged[g.t.Name] {
			repeats[g.t.Name] += o.Repeats
		}
		list := g.withRejected(g.withSound(judged[g.t.Name]))
		for _, o := range list {
			if o.Made != o.Kept+o.SetAside+o.Repeats {
				return nil, fmt.Errorf("the balance of %s in %s does not hold: %d rows, %d kept, %d set aside, %d repeats; nothing was stored", o.Table, o.File, o.Made, o.Kept, o.SetAside, o.Repeats)
			}
			rows = append(rows, []any{l.res.LoadID, o.File, o.Table, o.Made, o.Kept, o.Newer, o.SetAside, o.Repeats})
		}
		l.res.Outcomes = append(l.res.Outcomes, list...)
	}
	return repeats, insertAll(ctx, c, "load_rows", rows)
}

// countFiles counts the staged rows of each table by file and verdict, files in the order
// of their first row.
func countFiles(ctx context.Context, c *sql.Conn, stages []*stage) (map[string][]Outcome, error) {
	var parts []string
	for i, g := range stages {
		if g.empty() {
			continue
		}
		newer, file := "false", "s.file"
		if !g.direct {
			newer = "s.case_id IN (SELECT case_id FROM temp.gone)"
			if g.t.Parent == "visits" {
				newer = "s.visit_id IN (SELECT visit_id FROM temp.st_visits WHERE case_id IN (SELECT case_id FROM temp.gone))"
			}
		}
		if !g.turned() {
			file = store.Quote(g.sheet.File)
		}
		parts = append(parts, fmt.Sprintf("SELECT %d AS place, %s AS file, min(s.rec) AS first, count(*) AS made, count(*) FILTER (s.verdict IS NULL) AS kept, count(*) FILTER (s.verdict IS NULL AND %s) AS newer, count(*) FILTER (s.verdict > %d) AS aside, count(*) FILTER (s.verdict = %d) AS repeats FROM %s s GROUP BY 2",
			i, file, newer, repeat, repeat, g.table()))
	}
	by := map[string][]Outcome{}
	if len(parts) == 0 {
		return by, nil
	}
	rows, err := c.QueryContext(ctx, "SELECT place, file, made, kept, newer, aside, repeats FROM ("+strings.Join(parts, " UNION ALL ")+") ORDER BY place, first, file")
	if err != nil {
		return nil, err
	}
	err = each(rows, func() error {
		place, o := 0, Outcome{Reasons: []ReasonCount{}}
		if err := rows.Scan(&place, &o.File, &o.Made, &o.Kept, &o.Newer, &o.SetAside, &o.Repeats); err != nil {
			return err
		}
		o.Table = stages[place].t.Name
		by[o.Table] = append(by[o.Table], o)
		return nil
	})
	return by, err
}

// withRejected adds the records that could not be cut into cells.
func (g *stage) withRejected(list []Outcome) []Outcome {
	for _, f := range g.sheet.Rejected {
		i := slices.IndexFunc(list, func(o Outcome) bool { return o.File == f.File })
		if i < 0 {
			list, i = append(list, Outcome{File: f.File, Table: g.t.Name}), len(list)
		}
		list[i].Made++
		list[i].SetAside++
	}
	return list
}

// insertAll writes rows into a table of the ledger, many in one statement.
func insertAll(ctx context.Context, c *sql.Conn, table string, rows [][]any) error {
	for some := range slices.Chunk(rows, 200) {
		one := "(?" + strings.Repeat(", ?", len(some[0])-1) + ")"
		var args []any
		for _, row := range some {
			args = append(args, row...)
		}
		if _, err := exec(ctx, c, "INSERT INTO main."+table+" VALUES "+one+strings.Repeat(", "+one, len(some)-1), args...); err != nil {
			return err
		}
	}
	return nil
}
