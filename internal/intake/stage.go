package intake

import (
	"context"
	"database/sql"
	"fmt"
	"strings"

	"afterfit/internal/bundle"
	"afterfit/internal/store"
)

// Verdicts on a staged row beside the numbers of the cell rules (from firstRule
// on). NULL is a row to keep.
const (
	wrong        = -1 // a coarse rule is broken, the reason is not yet known
	repeat       = 0  // the same as an earlier row, or as what the store has
	duplicateKey = 1
	noParent     = 2
	parentAside  = 3
	takenKey     = 4
	notTurned    = 5 // the mapping could make nothing of a cell
	firstRule    = 10
)

// stage is one table on its way in: raw_T holds the cells as read, st_T the typed
// row with its record number, verdict and the record it clashes with.
type stage struct {
	t     bundle.Table
	sheet *Sheet
	rules []rule
	adds  bool // rows join what the store has

	asideNoted bool // rows were set aside, and asideTable has them
}

func (g *stage) rawTable() string { return "temp.raw_" + g.t.Name }
func (g *stage) table() string    { return "temp.st_" + g.t.Name }

func (g *stage) columns() string { return strings.Join(g.t.Names(), ", ") }

// prefixed lists the table's columns with a table's alias.
func (g *stage) prefixed(alias string) string {
	return alias + "." + strings.Join(g.t.Names(), ", "+alias+".")
}

func exec(ctx context.Context, c *sql.Conn, q string, args ...any) (int64, error) {
	res, err := c.ExecContext(ctx, q, args...)
	if err != nil {
		return 0, fmt.Errorf("%w (in: %.120s)", err, strings.Join(strings.Fields(q), " "))
	}
	return res.RowsAffected()
}

// read brings the sheet's cells into raw_T, all text, the contract's columns only
// by the names that Go read from the header. Rec numbers the records in file order;
// rowid would not do, it starts at 2^55 inside the transaction that made the table.
func (g *stage) read(ctx context.Context, c *sql.Conn) error {
	if g.sheet == nil {
		return g.readNothing(ctx, c)
	}
	q := fmt.Sprintf("CREATE OR REPLACE TEMP TABLE raw_%s AS SELECT row_number() OVER () - 1 AS rec, %s FROM %s", g.t.Name, g.cells(), g.from())
	if _, err := exec(ctx, c, q); err != nil {
		if changed := g.sheet.unchanged(); changed != nil {
			return changed
		}
		return fmt.Errorf("read %s: %w", g.sheet.File, withoutLine(err))
	}
	var n int64
	if err := c.QueryRowContext(ctx, "SELECT count(*) FROM "+g.rawTable()).Scan(&n); err != nil {
		return err
	}
	if err := g.sheet.unchanged(); err != nil {
		return err
	}
	if n != g.sheet.Records {
		return fmt.Errorf("read %s: %d records counted but %d read; was the file changed meanwhile?", g.sheet.File, g.sheet.Records, n)
	}
	return nil
}

// from is what DuckDB reads the sheet from: its text, or the columns of a Parquet file
// as text, where nothing recorded is NULL as in an empty cell.
func (g *stage) from() string {
	if cols := g.sheet.Columns; cols != nil {
		cells := make([]string, len(cols.Cells))
		for i, cell := range cols.Cells {
			cells[i] = fmt.Sprintf("nullif(%s, '') AS %s", cell, g.sheet.Header[i])
		}
		return "(SELECT " + strings.Join(cells, ", ") + " FROM " + cols.From + ")"
	}
	var cols []string
	for _, name := range append(append([]string{}, g.sheet.Header...), g.turnedColumns()...) {
		cols = append(cols, store.Quote(name)+": 'VARCHAR'")
	}
	return fmt.Sprintf(`read_csv(%s, auto_detect=false, header=true,
	delim=',', quote='"', escape='"', nullstr='', strict_mode=true, null_padding=false, ignore_errors=false, compression='none',
	hive_partitioning=false, filename=false, max_line_size=%d, columns={%s})`, store.Quote(g.sheet.Path), 2*maxRecord, strings.Join(cols, ", "))
}

// cells lists what the sheet has and NULL for the columns that it does not have.
func (g *stage) cells() string {
	cells := "*"
	for _, name := range missingColumns(g.t, g.sheet.Header) {
		cells += ", CAST(NULL AS VARCHAR) AS " + name
	}
	return cells
}

// readNothing stands in for an optional table that the export does not have.
func (g *stage) readNothing(ctx context.Context, c *sql.Conn) error {
	_, err := exec(ctx, c, fmt.Sprintf("CREATE OR REPLACE TEMP TABLE raw_%s (rec BIGINT, %s VARCHAR)", g.t.Name, strings.Join(g.t.Names(), " VARCHAR, ")))
	return err
}

// judge builds st_T: every row typed, and marked where it breaks a rule. The many
// finer rules are put only to rows that a coarse one finds wrong.
func (g *stage) judge(ctx context.Context, c *sql.Conn) error {
	g.rules = nil
	for _, col := range g.t.Columns {
		g.rules = append(g.rules, cellRules(col)...)
	}
	g.rules = append(g.rules, rowRules(g.t)...)
	var coarse []string
	for _, r := range g.rules {
		if !r.finer {
			coarse = append(coarse, "("+r.when+")")
		}
	}
	values := make([]string, len(g.t.Columns))
	for i, col := range g.t.Columns {
		values[i] = typed(col) + " AS " + col.Name
	}
	n := int64(0)
	_, err := exec(ctx, c, fmt.Sprintf("CREATE OR REPLACE TEMP TABLE st_%s AS SELECT r.rec, %s, CASE%s WHEN %s THEN %d END AS verdict, CAST(NULL AS BIGINT) AS other FROM %s r",
		g.t.Name, strings.Join(values, ", "), g.whenNotTurned(), strings.Join(coarse, "\n OR "), wrong, g.rawTable()))
	if err == nil {
		err = c.QueryRowContext(ctx, "SELECT count(verdict) FROM "+g.table()).Scan(&n)
	}
	if err != nil || n == 0 {
		return err
	}
	return g.explain(ctx, c)
}

// explain gives the rows found wrong the first rule that they break, in the order
// of the columns. A row that no rule explains would stay wrong, and the balance
// would not hold.
func (g *stage) explain(ctx context.Context, c *sql.Conn) error {
	var first strings.Builder
	for i, r := range g.rules {
		fmt.Fprintf(&first, "\n WHEN %s THEN %d", r.when, firstRule+i)
	}
	_, err := exec(ctx, c, fmt.Sprintf("UPDATE %s AS s SET verdict = CASE%s ELSE %d END FROM %s r WHERE r.rec = s.rec AND s.verdict = %d",
		g.table(), first.String(), wrong, g.rawTable(), wrong))
	return err
}

// drop removes the staging tables; they hold the cells of people's rows.
func (g *stage) drop(ctx context.Context, c *sql.Conn) error {
	_, err := exec(ctx, c, fmt.Sprintf("DROP TABLE IF EXISTS %s; DROP TABLE IF EXISTS %s; DROP TABLE IF EXISTS %s", g.rawTable(), g.table(), g.asideTable()))
	return err
}
