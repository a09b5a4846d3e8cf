package demo

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"github.com/duckdb/duckdb-go/v2"

	"afterfit/internal/bundle"
)

// toParquet turns the tables written so far into Parquet, one after the other, and
// takes each CSV away as soon as its Parquet file stands. DuckDB streams the rows.
func (f *folder) toParquet(ctx context.Context) (err error) {
	connector, err := duckdb.NewConnector("", nil)
	if err != nil {
		return err
	}
	db := sql.OpenDB(connector)
	defer func() { err = errors.Join(err, db.Close()) }()
	db.SetMaxOpenConns(1)
	// The order of rows is part of the bundle; a small limit keeps memory constant.
	for _, q := range []string{"SET autoinstall_known_extensions=false", "SET autoload_known_extensions=false", "SET memory_limit='1GB'", "SET temp_directory=" + literal(f.dir)} {
		if _, err := db.ExecContext(ctx, q); err != nil {
			return err
		}
	}
	for i, name := range f.names {
		t, ok := bundle.Find(strings.TrimSuffix(name, csvEnd))
		if !ok {
			continue // the note stays as it is
		}
		if err := f.files[i].Close(); err != nil {
			return err
		}
		to := t.Name + parquetEnd
		if _, err := db.ExecContext(ctx, copyStatement(t, f.part(name), f.part(to))); err != nil {
			_ = os.Remove(f.part(to)) // discard knows the table by its first name
			return err
		}
		if err := os.Remove(f.part(name)); err != nil {
			return err
		}
		f.names[i] = to
	}
	return nil
}

// rowGroup is how many rows stand in one piece of a Parquet file. Readers work on
// pieces side by side, and keep one piece at a time in memory.
const rowGroup = 122_880

func copyStatement(t bundle.Table, from, to string) string {
	cols := make([]string, len(t.Columns))
	for i, c := range t.Columns {
		kind := "VARCHAR"
		switch c.Kind {
		case bundle.Int, bundle.Day:
			kind = "INTEGER"
		case bundle.Length:
			kind = "DECIMAL(6,2)"
		}
		cols[i] = fmt.Sprintf("%s: '%s'", literal(c.Name), kind)
	}
	return fmt.Sprintf(`COPY (SELECT * FROM read_csv(%s, auto_detect=false, header=true, delim=',', quote='"', escape='"', nullstr='', columns={%s}))
	TO %s (FORMAT parquet, COMPRESSION zstd, ROW_GROUP_SIZE %d)`, literal(from), strings.Join(cols, ", "), literal(to), rowGroup)
}

func literal(s string) string { return "'" + strings.ReplaceAll(s, "'", "''") + "'" }

// How the names of the tables' files end.
const csvEnd, parquetEnd = ".csv", ".parquet"

// part is where a file stands until the bundle is whole.
func (f *folder) part(name string) string { return filepath.Join(f.dir, name+partSuffix) }
