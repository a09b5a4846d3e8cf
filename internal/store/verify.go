package store

import (
	"context"
	"fmt"
	"strings"

	"afterfit/internal/bundle"
)

// TableReport counts one table over all loads. In a sound store
// Read = Now + SetAside + Repeats + History.
type TableReport struct {
	Name     string `json:"name"`
	Read     int64  `json:"rows_read"`
	Now      int64  `json:"rows_now"`
	SetAside int64  `json:"set_aside"`
	Repeats  int64  `json:"repeats"`
	History  int64  `json:"in_history"`
}

// Report is what Verify found. Problems is empty in a sound store.
type Report struct {
	Fingerprint string        `json:"fingerprint"`
	Loads       int64         `json:"loads"`
	Undone      int64         `json:"loads_undone"`
	Corrected   int64         `json:"set_aside_corrected"` // rows set aside that a later load brought corrected
	Tables      []TableReport `json:"tables"`
	Problems    []string      `json:"problems"`
}

// Verify recounts every table against the ledger: the balance over all loads, the
// rows of each load, unique keys, and parents of all rows. It returns an error
// only when the store cannot be read; what is wrong stands in Problems.
func (s *Store) Verify(ctx context.Context) (Report, error) {
	r := Report{Tables: []TableReport{}, Problems: []string{}}
	var err error
	if r.Fingerprint, err = s.Fingerprint(ctx); err != nil {
		return r, err
	}
	if noted, err := s.notedFingerprint(ctx); err != nil {
		return r, err
	} else if noted != "" && noted != r.Fingerprint {
		r.Problems = append(r.Problems, "the rows are not those of which the store noted the fingerprint: they were changed past the ledger")
	}
	if r.Corrected, err = s.count(ctx, "SELECT count(*) FROM main.set_aside a WHERE "+IsCorrected); err != nil {
		return r, err
	}
	for _, c := range ledgerChecks {
		n, err := s.count(ctx, c.sql)
		if err != nil {
			return r, fmt.Errorf("verify the ledger: %w", err)
		}
		if n > 0 {
			r.Problems = append(r.Problems, fmt.Sprintf("the ledger: %d %s", n, c.found))
		}
	}
	rows, err := countRows(ctx, s.db)
	if err != nil {
		return r, fmt.Errorf("verify the rows: %w", err)
	}
	r.Loads, r.Undone = int64(len(rows.loads)), int64(len(rows.undone))
	for _, t := range bundle.Tables {
		tr := rows.report(t.Name)
		r.Tables = append(r.Tables, tr)
		if have := tr.Now + tr.SetAside + tr.Repeats + tr.History; have != tr.Read {
			r.Problems = append(r.Problems, fmt.Sprintf("%s: %d rows were read, but %d are accounted for", t.Name, tr.Read, have))
		}
		wrong, err := rows.unsound(ctx, s.db, t)
		if err != nil {
			return r, err
		}
		for _, p := range wrong {
			r.Problems = append(r.Problems, fmt.Sprintf("%s: %d %s", t.Name, p.n, p.found))
		}
	}
	return r, nil
}

func (s *Store) count(ctx context.Context, q string) (n int64, err error) {
	err = s.db.QueryRowContext(ctx, q).Scan(&n)
	return n, err
}

type check struct{ found, sql string }

// Standing is the condition that a row of the ledger belongs to a load that was
// not undone.
const Standing = "load_id NOT IN (SELECT load_id FROM main.undone)"

// ledgerChecks are questions to the ledger alone whose answer must be 0.
var ledgerChecks = []check{
	{"loads that were undone but are not listed", "SELECT count(*) FROM main.undone WHERE load_id NOT IN (SELECT load_id FROM main.loads)"},
	{"loads that were undone although a standing one builds on them", "SELECT count(DISTINCT on_load) FROM main.load_needs WHERE " + Standing + " AND on_load IN (SELECT load_id FROM main.undone)"},
	{"rows set aside by an undone load", "SELECT count(*) FROM main.set_aside WHERE NOT (" + Standing + ")"},
	{"corrections of rows that are not set aside", `SELECT count(*) FROM main.corrected c WHERE NOT EXISTS (SELECT 1 FROM main.set_aside a
	WHERE a.load_id = c.of_load AND a.table_name = c.table_name AND a.file = c.file AND a.line = c.line AND a.column_name IS NOT DISTINCT FROM c.column_name)`},
	{"loads and tables whose rows by file do not add up to their balance", `SELECT count(*) FROM main.balance b JOIN (SELECT load_id, table_name, sum(made) AS made, sum(kept) AS kept, sum(set_aside) AS aside, sum(repeats) AS repeats FROM main.load_rows GROUP BY ALL) r
	USING (load_id, table_name) WHERE (b.rows_read, b.kept, b.set_aside, b.repeats) <> (r.made, r.kept, r.aside, r.repeats)`},
}

// checksOf lists the questions about a table's keys and parents whose answer must be 0.
func checksOf(t bundle.Table) []check {
	var checks []check
	if len(t.Key) > 0 {
		key := strings.Join(t.Key, ", ")
		checks = append(checks, check{"keys that more than one row has", fmt.Sprintf("SELECT count(*) FROM (SELECT %s FROM main.%s GROUP BY %s HAVING count(*) > 1)", key, t.Name, key)})
	}
	if t.Parent != "" {
		checks = append(checks, check{"rows without their row in " + t.Parent,
			fmt.Sprintf("SELECT count(*) FROM main.%[1]s WHERE %[3]s NOT IN (SELECT %[3]s FROM main.%[2]s)", t.Name, t.Parent, t.ParentBy)})
	}
	return checks
}
