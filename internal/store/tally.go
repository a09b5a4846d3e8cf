package store

import (
	"context"
	"database/sql"
	"fmt"
	"strings"

	"afterfit/internal/bundle"
)

// asker answers queries: the store, or one connection within its transaction.
type asker interface {
	QueryContext(ctx context.Context, q string, args ...any) (*sql.Rows, error)
	QueryRowContext(ctx context.Context, q string, args ...any) *sql.Row
}

// tally counts the rows of one table by load, from the rows themselves, beside what the
// ledger says of them.
type tally struct {
	now, history, superseded, aside map[int64]int64 // by load_id; superseded by the load that did it
	balance                         []loadBalance
}

type loadBalance struct {
	load int64
	Balance
}

// tallies is the tally of every table, and which loads there are and which were undone.
type tallies struct {
	of            map[string]*tally
	loads, undone map[int64]bool
}

// noLoad stands for a row without the number of a load.
const noLoad = -1

// countRows counts the rows of all tables by load. That takes two statements: what a
// statement needs to be planned is most of what it takes on a small store.
func countRows(ctx context.Context, db asker) (*tallies, error) {
	t := &tallies{of: map[string]*tally{}, loads: map[int64]bool{}, undone: map[int64]bool{}}
	var parts []string
	for _, b := range bundle.Tables {
		t.of[b.Name] = &tally{now: map[int64]int64{}, history: map[int64]int64{}, superseded: map[int64]int64{}, aside: map[int64]int64{}}
		parts = append(parts,
			fmt.Sprintf("SELECT 'now' AS kind, '%[1]s' AS name, load_id, 0 AS gone_by, count(*) AS n FROM main.%[1]s GROUP BY load_id", b.Name),
			fmt.Sprintf("SELECT 'history', '%[2]s', load_id, superseded_by, count(*) FROM %[1]s.%[2]s GROUP BY load_id, superseded_by", History, b.Name))
	}
	parts = append(parts, "SELECT 'aside', table_name, load_id, 0, count(*) FROM main.set_aside GROUP BY table_name, load_id",
		"SELECT 'loads', '', load_id, 0, count(*) FROM main.loads GROUP BY load_id", "SELECT 'undone', '', load_id, 0, count(*) FROM main.undone GROUP BY load_id")
	rows, err := db.QueryContext(ctx, fmt.Sprintf("SELECT kind, coalesce(name, ''), coalesce(load_id, %d), coalesce(gone_by, %[1]d), n FROM (%s)", noLoad, strings.Join(parts, " UNION ALL ")))
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	for rows.Next() {
		var kind, table string
		var load, goneBy, n int64
		if err := rows.Scan(&kind, &table, &load, &goneBy, &n); err != nil {
			return nil, err
		}
		t.add(kind, table, load, goneBy, n)
	}
	if err := rows.Err(); err != nil {
		return nil, err
	}
	return t, t.readBalance(ctx, db)
}

func (t *tallies) add(kind, table string, load, goneBy, n int64) {
	of := t.of[table]
	switch {
	case kind == "loads":
		t.loads[load] = true
	case kind == "undone":
		t.undone[load] = true
	case of == nil: // rows set aside of a table that the contract does not have
	case kind == "now":
		of.now[load] += n
	case kind == "history":
		of.history[load] += n
		of.superseded[goneBy] += n
	case kind == "aside":
		of.aside[load] += n
	}
}

// readBalance reads what the ledger says of every load and table.
func (t *tallies) readBalance(ctx context.Context, db asker) error {
	rows, err := db.QueryContext(ctx, fmt.Sprintf("SELECT coalesce(load_id, %d), coalesce(table_name, ''), rows_read, kept, set_aside, repeats, superseded FROM main.balance", noLoad))
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		var b loadBalance
		var read, kept, aside, repeats, superseded sql.NullInt64
		if err := rows.Scan(&b.load, &b.Table, &read, &kept, &aside, &repeats, &superseded); err != nil {
			return err
		}
		b.Read, b.Kept, b.SetAside, b.Repeats, b.Superseded = read.Int64, kept.Int64, aside.Int64, repeats.Int64, superseded.Int64
		if of := t.of[b.Table]; of != nil {
			of.balance = append(of.balance, b)
		}
	}
	return rows.Err()
}

// report adds a table up over all loads; SetAside and the current and historical rows are
// counted from the rows themselves, Read and Repeats come from the ledger.
func (t *tallies) report(table string) TableReport {
	of, r := t.of[table], TableReport{Name: table}
	for _, b := range of.balance {
		if !t.undone[b.load] {
			r.Read += b.Read
			r.Repeats += b.Repeats
		}
	}
	r.Now, r.History, r.SetAside = total(of.now), total(of.history), total(of.aside)
	return r
}

func total(by map[int64]int64) (n int64) {
	for _, some := range by {
		n += some
	}
	return n
}

// problem is something in a table that must not be, and how often it is there.
type problem struct {
	n     int64
	found string
}

// problems holds a table's rows against the ledger. All n are 0 in a sound store.
func (t *tallies) problems(table string) []problem {
	of := t.of[table]
	var uneven, kept, aside, superseded, strange int64
	for _, b := range of.balance {
		uneven += one(!b.Holds())
		if !t.undone[b.load] {
			kept += one(b.Kept != of.now[b.load]+of.history[b.load])
			aside += one(b.SetAside != of.aside[b.load])
			superseded += one(b.Superseded != of.superseded[b.load])
		}
	}
	for _, rows := range []map[int64]int64{of.now, of.history} {
		for load, n := range rows {
			if !t.loads[load] || t.undone[load] {
				strange += n
			}
		}
	}
	return []problem{
		{uneven, "loads whose own balance does not add up"},
		{kept, "loads whose kept rows are not all there"},
		{aside, "loads whose rows set aside are not all there"},
		{superseded, "loads whose superseded rows are not all in the history"},
		{strange, "rows of a load that is not in the ledger"},
	}
}

func one(yes bool) int64 {
	if yes {
		return 1
	}
	return 0
}

// unsound puts all questions about a table whose answer must be 0, and gives those with
// another answer.
func (t *tallies) unsound(ctx context.Context, db asker, of bundle.Table) ([]problem, error) {
	list := t.problems(of.Name)
	for _, c := range checksOf(of) {
		p := problem{found: c.found}
		if err := db.QueryRowContext(ctx, c.sql).Scan(&p.n); err != nil {
			return nil, fmt.Errorf("verify %s: %w", of.Name, err)
		}
		list = append(list, p)
	}
	wrong := list[:0]
	for _, p := range list {
		if p.n > 0 {
			wrong = append(wrong, p)
		}
	}
	return wrong, nil
}
