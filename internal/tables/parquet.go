package tables

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strconv"
	"strings"

	"github.com/duckdb/duckdb-go/v2"
)

// parquetFile gathers rows in a database of its own, which spills to disk, and copies
// them out with one thread in the order in which they came.
type parquetFile struct {
	w       io.Writer
	about   About
	scratch string
	db      *sql.DB
	conn    *sql.Conn
	rows    *duckdb.Appender
	columns []Column
	cells   []driver.Value
}

func newParquet(w io.Writer, about About) (p *parquetFile, err error) {
	p = &parquetFile{w: w, about: about}
	if p.scratch, err = os.MkdirTemp("", "afterfit-tables-*"); err != nil {
		return nil, err
	}
	connector, err := duckdb.NewConnector("", nil)
	if err != nil {
		return nil, errors.Join(err, os.RemoveAll(p.scratch))
	}
	p.db = sql.OpenDB(connector)
	if p.conn, err = p.db.Conn(context.Background()); err == nil {
		err = p.exec("SET autoinstall_known_extensions=false", "SET autoload_known_extensions=false", "SET TimeZone='UTC'", "SET threads=1",
			"SET memory_limit='1GB'", "SET temp_directory="+literal(p.scratch))
	}
	if err != nil {
		return nil, errors.Join(err, p.release())
	}
	return p, nil
}

func (p *parquetFile) exec(statements ...string) error {
	for _, s := range statements {
		if _, err := p.conn.ExecContext(context.Background(), s); err != nil {
			return err
		}
	}
	return nil
}

var parquetTypes = map[Kind]string{Text: "VARCHAR", Whole: "BIGINT", Number: "DOUBLE", YesNo: "BOOLEAN"}

func (p *parquetFile) Head(columns []Column) error {
	p.columns, p.cells = columns, make([]driver.Value, len(columns))
	made := make([]string, len(columns))
	for i, c := range columns {
		made[i] = `"` + strings.ReplaceAll(c.Name, `"`, `""`) + `" ` + parquetTypes[c.Kind]
	}
	if err := p.exec("CREATE TABLE taken (" + strings.Join(made, ", ") + ")"); err != nil {
		return err
	}
	return p.conn.Raw(func(c any) (err error) {
		p.rows, err = duckdb.NewAppenderFromConn(c.(driver.Conn), "", "taken")
		return err
	})
}

func (p *parquetFile) Row(cells []string) error {
	for i, cell := range cells {
		v, err := typed(p.columns[i], cell)
		if err != nil {
			return err
		}
		p.cells[i] = v
	}
	return p.rows.AppendRow(p.cells...)
}

// typed is a cell as a value of its column's kind; nothing is nil.
func typed(c Column, cell string) (any, error) {
	if cell == "" {
		return nil, nil
	}
	if c.Kind == Text {
		return cell, nil
	}
	var v any
	var err error
	switch c.Kind {
	case Whole:
		v, err = strconv.ParseInt(cell, 10, 64)
	case YesNo:
		v, err = strconv.ParseBool(cell)
	default:
		v, err = strconv.ParseFloat(cell, 64)
	}
	if err != nil {
		return nil, notOfKind(c, cell)
	}
	return v, nil
}

// Close copies the rows out and gives everything back, also after a failed row.
func (p *parquetFile) Close() (err error) {
	defer func() { err = errors.Join(err, p.release()) }()
	if p.rows == nil {
		return fmt.Errorf("table %s has no columns", p.about.Name)
	}
	if err := p.rows.Close(); err != nil {
		return err
	}
	path := filepath.Join(p.scratch, "taken.parquet")
	if err := p.exec("COPY (SELECT * FROM taken ORDER BY rowid) TO " + literal(path) + " (FORMAT parquet, COMPRESSION zstd, KV_METADATA {question: " +
		literal(p.about.Name) + ", answers: " + literal(p.about.Text) + "})"); err != nil {
		return err
	}
	f, err := os.Open(path)
	if err != nil {
		return err
	}
	_, err = io.Copy(p.w, f)
	return errors.Join(err, f.Close())
}

func (p *parquetFile) release() error {
	var err error
	if p.conn != nil {
		err = p.conn.Close()
	}
	return errors.Join(err, p.db.Close(), os.RemoveAll(p.scratch))
}

func literal(s string) string { return "'" + strings.ReplaceAll(s, "'", "''") + "'" }
