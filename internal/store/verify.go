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
	if r.Loads, err = s.count(ctx, "SELECT count(*) FROM main.loads"); err != nil {
		return r, err
	}
	for _, t := range bundle.Tables {
		tr, err := s.totals(ctx, t.Name)
		if err != nil {
			return r, err
		}
		r.Tables = append(r.Tables, tr)
		if have := tr.Now + tr.SetAside + tr.Repeats + tr.History; have != tr.Read {
			r.Problems = append(r.Problems, fmt.Sprintf("%s: %d rows were read, but %d are accounted for", t.Name, tr.Read, have))
		}
		for _, c := range checksOf(t) {
			n, err := s.count(ctx, c.sql)
			if err != nil {
				return r, fmt.Errorf("verify %s: %w", t.Name, err)
			}
			if n > 0 {
				r.Problems = append(r.Problems, fmt.Sprintf("%s: %d %s", t.Name, n, c.found))
			}
		}
	}
	return r, nil
}

func (s *Store) count(ctx context.Context, q string) (n int64, err error) {
	err = s.db.QueryRowContext(ctx, q).Scan(&n)
	return n, err
}

// totals counts a table over all loads; SetAside and the current and historical
// rows are counted from the rows themselves, Read and Repeats from the ledger.
func (s *Store) totals(ctx context.Context, table string) (TableReport, error) {
	tr := TableReport{Name: table}
	q := fmt.Sprintf(`SELECT
	(SELECT coalesce(sum(rows_read), 0)::BIGINT FROM main.balance WHERE table_name = '%[1]s'),
	(SELECT count(*) FROM main.%[1]s),
	(SELECT count(*) FROM main.set_aside WHERE table_name = '%[1]s'),
	(SELECT coalesce(sum(repeats), 0)::BIGINT FROM main.balance WHERE table_name = '%[1]s'),
	(SELECT count(*) FROM %[2]s.%[1]s)`, table, History)
	err := s.db.QueryRowContext(ctx, q).Scan(&tr.Read, &tr.Now, &tr.SetAside, &tr.Repeats, &tr.History)
	return tr, err
}

type check struct{ found, sql string }

// checksOf lists the questions whose answer must be 0 for a table.
func checksOf(t bundle.Table) []check {
	perLoad := func(column, rows string) string {
		return fmt.Sprintf(`SELECT count(*) FROM main.balance b LEFT JOIN (SELECT id, count(*) n FROM (%s) GROUP BY id) x ON x.id = b.load_id
	WHERE b.table_name = '%s' AND b.%s <> coalesce(x.n, 0)`, rows, t.Name, column)
	}
	both := fmt.Sprintf("SELECT load_id id FROM main.%[1]s UNION ALL SELECT load_id FROM %[2]s.%[1]s", t.Name, History)
	checks := []check{
		{"loads whose own balance does not add up", "SELECT count(*) FROM main.balance WHERE table_name = '" + t.Name + "' AND rows_read <> kept + set_aside + repeats"},
		{"loads whose kept rows are not all there", perLoad("kept", both)},
		{"loads whose rows set aside are not all there", perLoad("set_aside", "SELECT load_id id FROM main.set_aside WHERE table_name = '"+t.Name+"'")},
		{"loads whose superseded rows are not all in the history", perLoad("superseded", fmt.Sprintf("SELECT superseded_by id FROM %s.%s", History, t.Name))},
		{"rows of a load that is not in the ledger", fmt.Sprintf("SELECT count(*) FROM (%s) WHERE id NOT IN (SELECT load_id FROM main.loads)", both)},
	}
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
