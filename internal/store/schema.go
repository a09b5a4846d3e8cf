package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"strconv"
	"strings"

	"afterfit/internal/bundle"
)

// History is the schema of rows that a newer load replaced.
const History = "history"

const versionKey = "schema_version"

// steps lead from an empty file to the current schema; step i makes version i+1.
// A step never adds a column with a computed default: a process killed before the
// next checkpoint would leave a file that DuckDB cannot open again.
var steps = [][]string{firstSchema(), clearedColumns, fullLedger, keptLinks}

// Version is the schema version that this program writes.
func Version() int { return len(steps) }

// SQLType is the type that a column's values are kept in.
func SQLType(k bundle.Kind) string {
	switch k {
	case bundle.Int, bundle.Day:
		return "INTEGER"
	case bundle.Length:
		return "DECIMAL(6,2)"
	}
	return "VARCHAR"
}

// compression says how a column of text is packed. Left to itself DuckDB tries all ways on
// every stretch of rows, which takes a quarter of the time of a load, and chooses these.
func compression(c bundle.Column) string {
	switch {
	case SQLType(c.Kind) != "VARCHAR":
		return ""
	case c.Name == "case_id" || c.Name == "patient_key" || c.Name == "remake_of" || c.Name == "visit_id":
		return " USING COMPRESSION fsst"
	}
	return " USING COMPRESSION dictionary"
}

// firstSchema is version 1: the contract's tables twice (current rows and
// history) and the ledger.
func firstSchema() []string {
	ddl := []string{"CREATE SCHEMA " + History}
	for _, t := range bundle.Tables {
		cols := make([]string, 0, len(t.Columns)+2)
		for _, c := range t.Columns {
			cols = append(cols, c.Name+" "+SQLType(c.Kind)+compression(c))
		}
		cols = append(cols, "load_id INTEGER")
		ddl = append(ddl,
			fmt.Sprintf("CREATE TABLE main.%s (%s)", t.Name, strings.Join(cols, ", ")),
			fmt.Sprintf("CREATE TABLE %s.%s (%s, superseded_by INTEGER)", History, t.Name, strings.Join(cols, ", ")))
	}
	return append(ddl,
		"CREATE TABLE main.loads (load_id INTEGER, source VARCHAR, content_sha256 VARCHAR, basis VARCHAR, invented BOOLEAN, complete BOOLEAN, loaded_at TIMESTAMP)",
		"CREATE TABLE main.balance (load_id INTEGER, table_name VARCHAR, rows_read BIGINT, kept BIGINT, set_aside BIGINT, repeats BIGINT, superseded BIGINT)",
		"CREATE TABLE main.set_aside (load_id INTEGER, table_name VARCHAR, file VARCHAR, line BIGINT, column_name VARCHAR, value VARCHAR, reason VARCHAR)",
		"CREATE TABLE main.flags (load_id INTEGER, table_name VARCHAR, case_id VARCHAR, row_key VARCHAR, column_name VARCHAR, value VARCHAR, rule VARCHAR)",
		"CREATE TABLE main.meta (key VARCHAR, value VARCHAR)",
	)
}

// clearedColumns is version 2: which findings of the privacy checks a person cleared
// for a load, and why.
var clearedColumns = []string{
	"CREATE TABLE main.cleared (load_id INTEGER, table_name VARCHAR, column_name VARCHAR, kind VARCHAR, reason VARCHAR)",
}

// fullLedger is version 3: what a load was made of, which earlier loads it builds
// on, what its cases looked like, which rows set aside were corrected, and which
// loads were undone. New tables alone: a column added to an old one would need a
// default.
var fullLedger = []string{
	"CREATE TABLE main.load_notes (load_id INTEGER, mapping VARCHAR, mapping_sha256 VARCHAR, adds BOOLEAN)",
	"CREATE TABLE main.load_files (load_id INTEGER, file VARCHAR, source VARCHAR, rows_read BIGINT, title BIGINT, header BIGINT, blank BIGINT, total BIGINT, used BIGINT, left_out BIGINT, not_mapped BIGINT, columns_not_mapped VARCHAR)",
	"CREATE TABLE main.load_rows (load_id INTEGER, file VARCHAR, table_name VARCHAR, made BIGINT, kept BIGINT, newer BIGINT, set_aside BIGINT, repeats BIGINT)",
	"CREATE TABLE main.load_needs (load_id INTEGER, on_load INTEGER)",
	"CREATE TABLE main.seen (load_id INTEGER, case_id VARCHAR, content VARCHAR)",
	"CREATE TABLE main.corrected (load_id INTEGER, of_load INTEGER, table_name VARCHAR, file VARCHAR, line BIGINT, column_name VARCHAR)",
	"CREATE TABLE main.undone (load_id INTEGER, undone_at TIMESTAMP)",
}

// keptLinks is version 4: linked tables are brought up to date load by load, and
// unlinked lists the cases that the undoing of a load touched since. Tables of the old
// way go, since views take their names.
var keptLinks = []string{
	"CREATE TABLE main.unlinked (load_id INTEGER, case_id VARCHAR)",
	"DROP TABLE IF EXISTS main.linked_dentures",
	"DROP TABLE IF EXISTS main.linked_events",
	"DROP TABLE IF EXISTS main.linked_firsts",
}

// upgrade brings the file from a version to the current one, or refuses it.
func (s *Store) upgrade(ctx context.Context, from int, readOnly bool) error {
	if from == Version() {
		return nil
	}
	if from > Version() {
		return &pathError{s.path, fmt.Sprintf("has schema version %d, this program knows up to %d", from, Version()), "use a newer afterfit for it"}
	}
	if readOnly {
		return &pathError{s.path, fmt.Sprintf("has schema version %d, this program needs %d", from, Version()), "open it once for writing (afterfit load)"}
	}
	err := s.Tx(ctx, func(ctx context.Context, c *sql.Conn) error {
		for _, step := range steps[from:] {
			for _, q := range step {
				if _, err := c.ExecContext(ctx, q); err != nil {
					return fmt.Errorf("schema step (%s): %w", q, err)
				}
			}
		}
		return s.SetMeta(ctx, c, versionKey, strconv.Itoa(Version()))
	})
	if err != nil {
		return err
	}
	return s.Checkpoint(ctx)
}

// version reads the file's schema version, 0 for an empty file. A DuckDB file
// with tables but without our ledger is somebody else's and is refused.
func (s *Store) version(ctx context.Context) (int, error) {
	var tables, metas int
	q := "SELECT count(*), count(*) FILTER (table_name = 'meta' AND schema_name = 'main') FROM duckdb_tables() WHERE NOT temporary"
	if err := s.db.QueryRowContext(ctx, q).Scan(&tables, &metas); err != nil {
		return 0, err
	}
	if tables == 0 {
		return 0, nil
	}
	foreign := &pathError{s.path, "is a DuckDB file but no afterfit store", "name another file; this one was left as it is"}
	if metas == 0 {
		return 0, foreign
	}
	text, err := s.Meta(ctx, versionKey)
	if err != nil {
		return 0, foreign
	}
	v, err := strconv.Atoi(text)
	if err != nil || v < 1 {
		return 0, foreign
	}
	return v, nil
}

// Meta reads a value of the store's own notes, "" when it was never set.
func (s *Store) Meta(ctx context.Context, key string) (string, error) {
	var v string
	err := s.db.QueryRowContext(ctx, "SELECT value FROM main.meta WHERE key = ?", key).Scan(&v)
	if errors.Is(err, sql.ErrNoRows) {
		return "", nil
	}
	return v, err
}

// SetMeta sets a value of the store's own notes inside the caller's transaction.
func (s *Store) SetMeta(ctx context.Context, c *sql.Conn, key, value string) error {
	if _, err := c.ExecContext(ctx, "DELETE FROM main.meta WHERE key = ?", key); err != nil {
		return err
	}
	_, err := c.ExecContext(ctx, "INSERT INTO main.meta VALUES (?, ?)", key, value)
	return err
}
