package sheets

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"strings"

	"github.com/duckdb/duckdb-go/v2"
)

// duck opens a database in memory that reaches for nothing outside this machine.
func duck(ctx context.Context, scratch string) (*sql.DB, error) {
	connector, err := duckdb.NewConnector("", nil)
	if err != nil {
		return nil, err
	}
	db := sql.OpenDB(connector)
	db.SetMaxOpenConns(1)
	for _, q := range []string{"SET autoinstall_known_extensions=false", "SET autoload_known_extensions=false", "SET TimeZone='UTC'",
		"SET memory_limit='1GB'", "SET temp_directory=" + literal(scratch)} {
		if _, err := db.ExecContext(ctx, q); err != nil {
			return nil, errors.Join(err, db.Close())
		}
	}
	return db, nil
}

func literal(s string) string { return "'" + strings.ReplaceAll(s, "'", "''") + "'" }

func ident(s string) string { return `"` + strings.ReplaceAll(s, `"`, `""`) + `"` }

// addParquet takes a Parquet file as one sheet.
func (b *Book) addParquet(f *file) {
	b.sources = append(b.sources, source{info: Info{File: f.name, Format: Parquet}, from: f, read: func(ctx context.Context, _ Override, w *gridWriter) error {
		return b.readParquet(ctx, f, w)
	}})
}

// readParquet writes the names as the row with line 0, then the rows as text:
// numbers without trailing zeros, days without a time of midnight.
func (b *Book) readParquet(ctx context.Context, f *file, w *gridWriter) (err error) {
	db, err := duck(ctx, b.scratch)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	from := "read_parquet(" + literal(globless(f.path)) + ", hive_partitioning=false)"
	names, cells, err := columnsOf(ctx, db, from, w.grid.Info)
	if err != nil {
		return err
	}
	if err := w.add(0, names); err != nil {
		return err
	}
	rows, err := db.QueryContext(ctx, "SELECT "+strings.Join(cells, ", ")+" FROM "+from)
	if err != nil {
		return unreadable(ctx, err, w.grid.Info)
	}
	defer func() { _ = rows.Close() }() // only read from
	texts, dest, out := make([]sql.NullString, len(names)), make([]any, len(names)), make([]string, len(names))
	for i := range texts {
		dest[i] = &texts[i]
	}
	for line := int64(1); rows.Next(); line++ {
		if err := rows.Scan(dest...); err != nil {
			return err
		}
		for i, t := range texts {
			out[i] = t.String
		}
		if err := w.add(line, out); err != nil {
			return err
		}
	}
	if err := rows.Err(); err != nil {
		return unreadable(ctx, err, w.grid.Info)
	}
	return nil
}

// Columns is a Parquet sheet for a reader that has a database of its own: what the
// database reads From, the names of the columns, how each becomes text (an SQL
// expression), and how many rows there are.
type Columns struct {
	Path, From   string
	Names, Cells []string
	Rows         int64
}

// Columnar describes sheet i, nil when it is no Parquet file. A file that cannot be
// read, or has nested columns, is a Fault.
func (b *Book) Columnar(ctx context.Context, i int) (cols *Columns, err error) {
	s := b.sources[i]
	if s.info.Format != Parquet {
		return nil, nil
	}
	if err := s.from.original.unchanged(); err != nil {
		return nil, err
	}
	db, err := duck(ctx, b.scratch)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	cols = &Columns{Path: s.from.path, From: "read_parquet(" + literal(globless(s.from.path)) + ", hive_partitioning=false)"}
	if cols.Names, cols.Cells, err = columnsOf(ctx, db, cols.From, s.info); err != nil {
		return nil, err
	}
	if err := db.QueryRowContext(ctx, "SELECT count(*) FROM "+cols.From).Scan(&cols.Rows); err != nil {
		return nil, unreadable(ctx, err, s.info)
	}
	return cols, nil
}

// globless keeps signs that a file name may hold from being read as a pattern.
func globless(path string) string {
	var b strings.Builder
	for _, r := range path {
		if strings.ContainsRune("*?[", r) {
			fmt.Fprintf(&b, "[%c]", r)
			continue
		}
		b.WriteRune(r)
	}
	return b.String()
}

func unreadable(ctx context.Context, err error, info Info) error {
	if ctx.Err() != nil {
		return ctx.Err()
	}
	return info.fault(0, "a Parquet file that cannot be read ("+firstLine(err.Error())+")", "export it again")
}

func firstLine(s string) string {
	s, _, _ = strings.Cut(s, "\n")
	return s
}

// columnsOf names the columns and how each becomes text.
func columnsOf(ctx context.Context, db *sql.DB, from string, info Info) (names, cells []string, err error) {
	rows, err := db.QueryContext(ctx, "SELECT column_name, column_type FROM (DESCRIBE SELECT * FROM "+from+")")
	if err != nil {
		return nil, nil, unreadable(ctx, err, info)
	}
	defer func() { _ = rows.Close() }() // only read from
	for rows.Next() {
		var name, kind string
		if err := rows.Scan(&name, &kind); err != nil {
			return nil, nil, err
		}
		text := ident(name) + "::VARCHAR"
		switch {
		case strings.HasPrefix(kind, "STRUCT") || strings.HasPrefix(kind, "MAP") || strings.HasSuffix(kind, "]"):
			return nil, nil, info.fault(0, "the nested column "+name, "export flat tables, or nested ones as NDJSON")
		case strings.HasPrefix(kind, "DECIMAL") && !strings.HasSuffix(kind, ",0)"): // there is a point, so that only decimals are cut
			text = "rtrim(rtrim(" + text + ", '0'), '.')"
		case kind == "FLOAT" || kind == "DOUBLE":
			text = `regexp_replace(regexp_replace(` + text + `, '(\.\d*[1-9])0+$', '\1'), '\.0*$', '')`
		case strings.HasPrefix(kind, "TIMESTAMP"):
			text = `regexp_replace(` + text + `, ' 00:00:00(\+00)?$', '')`
		}
		names, cells = append(names, name), append(cells, text)
	}
	return names, cells, rows.Err()
}
