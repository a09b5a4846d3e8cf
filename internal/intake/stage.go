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

// stage is one table on its way in. Of the rows to be judged, raw_T holds the cells as
// read and st_T the typed row with its record number, verdict and the record it clashes
// with. Where the load meets rows that the store has, st_T holds the sound rows too,
// without a number: their verdict can only be that the store has them.
type stage struct {
	t      bundle.Table
	sheet  *Sheet
	rules  []rule
	adds   bool // rows join what the store has
	direct bool // sound rows go straight into the store

	staged     bool // there are temporary tables to drop
	asideNoted bool // rows were set aside, and asideTable has them
	kept       int64
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

// read brings the cells to be judged into raw_T, all text, the contract's columns only
// by the names that Go read from the header. Rec numbers the records in file order;
// rowid would not do, it starts at 2^55 inside the transaction that made the table.
func (g *stage) read(ctx context.Context, c *sql.Conn) error {
	from, lead, want := "", "row_number() OVER () - 1 AS rec, false AS sure", int64(0)
	switch f := g.sifted(); {
	case g.sheet == nil || f != nil && f.judged == "":
		return g.readNothing(ctx, c)
	case f != nil:
		from, want = g.judgedRows(), f.odd
		lead = fmt.Sprintf("%s AS rec, %s AS sure", recColumn, sureColumn)
	default:
		from, want = g.from(), g.sheet.Records
	}
	g.staged = true
	q := fmt.Sprintf("CREATE OR REPLACE TEMP TABLE raw_%s AS SELECT %s, %s FROM %s", g.t.Name, lead, g.cells(), from)
	n := int64(0)
	_, err := exec(ctx, c, q)
	if err == nil {
		err = c.QueryRowContext(ctx, "SELECT count(*) FROM "+g.rawTable()).Scan(&n)
	}
	return g.wasRead(n, want, err)
}

// wasRead judges a reading of rows.
func (g *stage) wasRead(n, want int64, err error) error {
	if changed := g.sheet.unchanged(); changed != nil {
		return changed
	}
	if err != nil {
		return fmt.Errorf("read %s: %w", g.sheet.File, withoutLine(err))
	}
	if n != want {
		return fmt.Errorf("read %s: %d records counted but %d read; was the file changed meanwhile?", g.sheet.File, want, n)
	}
	return nil
}

// sifted is what the look-through found; nil where every row is judged.
func (g *stage) sifted() *sifted {
	if g.sheet == nil {
		return nil
	}
	return g.sheet.Sifted
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
	return csvRows(g.sheet.Path, nil, g.sheet.names(), nil)
}

// names lists the columns that the sheet's text has.
func (sh *Sheet) names() []string {
	return append(append([]string{}, sh.Header...), sh.turnedColumns()...)
}

// csvRows is the SQL that reads a CSV strictly: columns with types before those of
// names, which are text where types has none for them.
func csvRows(path string, before [][2]string, names []string, types map[string]string) string {
	var cols []string
	for _, c := range before {
		cols = append(cols, store.Quote(c[0])+": '"+c[1]+"'")
	}
	for _, name := range names {
		kind := types[name]
		if kind == "" {
			kind = "VARCHAR"
		}
		cols = append(cols, store.Quote(name)+": '"+kind+"'")
	}
	return fmt.Sprintf(`read_csv(%s, auto_detect=false, header=true,
	delim=',', quote='"', escape='"', nullstr='', strict_mode=true, null_padding=false, ignore_errors=false, compression='none',
	hive_partitioning=false, filename=false, max_line_size=%d, columns={%s})`, store.Quote(path), 2*maxRecord, strings.Join(cols, ", "))
}

// judgedRows reads the rows to be judged, as text.
func (g *stage) judgedRows() string {
	return csvRows(g.sheet.Sifted.judged, [][2]string{{recColumn, "BIGINT"}, {sureColumn, "BOOLEAN"}}, g.sheet.names(), nil)
}

// soundRows reads the rows that are sound, with their types; an age is text.
func (g *stage) soundRows() string {
	types := map[string]string{}
	for _, c := range g.t.Columns {
		types[c.Name] = store.SQLType(c.Kind)
	}
	return csvRows(g.sheet.Sifted.sound, nil, g.sheet.names(), types)
}

// soundValues lists the contract's columns of a sound row, by their names.
func (g *stage) soundValues() string {
	values := make([]string, len(g.t.Columns))
	for i, col := range g.t.Columns {
		switch {
		case !contains(g.sheet.Header, col.Name):
			values[i] = "CAST(NULL AS " + store.SQLType(col.Kind) + ")"
		case col.Kind == bundle.AgeBand:
			values[i] = typed(col)
		default:
			values[i] = raw(col.Name)
		}
		values[i] += " AS " + col.Name
	}
	return strings.Join(values, ", ")
}

// sound counts the rows that need no judging.
func (g *stage) sound() int64 {
	if g.sifted() == nil {
		return 0
	}
	return g.sheet.Records - g.sheet.Sifted.odd
}

// soundSelect types the sound rows. Columns before and behind those of the contract are
// the caller's.
func (g *stage) soundSelect(before, behind string) string {
	return fmt.Sprintf("SELECT %s%s%s FROM %s r", before, g.soundValues(), behind, g.soundRows())
}

// cells lists what the sheet has and NULL for the columns that it does not have.
func (g *stage) cells() string {
	cells := strings.Join(g.sheet.names(), ", ")
	for _, name := range missingColumns(g.t, g.sheet.Header) {
		cells += ", CAST(NULL AS VARCHAR) AS " + name
	}
	return cells
}

// readNothing stands in for a table without rows to be judged.
func (g *stage) readNothing(ctx context.Context, c *sql.Conn) error {
	g.staged = true
	names := append(g.t.Names(), g.sheet.turnedColumns()...)
	_, err := exec(ctx, c, fmt.Sprintf("CREATE OR REPLACE TEMP TABLE raw_%s (rec BIGINT, sure BOOLEAN, %s VARCHAR)", g.t.Name, strings.Join(names, " VARCHAR, ")))
	return err
}

// nothing stands in for the rows to be judged of a table that has none.
func (g *stage) nothing(ctx context.Context, c *sql.Conn) error {
	if err := g.readNothing(ctx, c); err != nil {
		return err
	}
	cols := make([]string, len(g.t.Columns))
	for i, col := range g.t.Columns {
		cols[i] = col.Name + " " + store.SQLType(col.Kind)
	}
	file := ""
	if g.turned() {
		file = ", file VARCHAR"
	}
	_, err := exec(ctx, c, fmt.Sprintf("CREATE OR REPLACE TEMP TABLE st_%s (rec BIGINT, %s, verdict INTEGER, other BIGINT, sure BOOLEAN%s)", g.t.Name, strings.Join(cols, ", "), file))
	return err
}

// empty reports that no row of the table is staged: all are sound and go straight into
// the store, or there are none.
func (g *stage) empty() bool {
	return g.sheet == nil || g.sifted() != nil && g.sifted().judged == "" && (g.direct || g.sheet.Records == 0)
}

// allSound reports that no row of the table needs judging.
func (g *stage) allSound() bool {
	return g.sheet == nil || g.sifted() != nil && g.sifted().judged == ""
}

// judge builds st_T: every row typed, and marked where it breaks a rule. The many
// finer rules are put only to rows that a coarse one finds wrong.
func (g *stage) judge(ctx context.Context, c *sql.Conn) error {
	file := ""
	if g.turned() {
		file = ", r." + mapping.FileColumn + " AS file"
	}
	if g.allSound() {
		n := int64(0)
		_, err := exec(ctx, c, fmt.Sprintf("CREATE OR REPLACE TEMP TABLE st_%s AS %s", g.t.Name, g.soundSelect("CAST(NULL AS BIGINT) AS rec, ", ", CAST(NULL AS INTEGER) AS verdict, CAST(NULL AS BIGINT) AS other, true AS sure"+file)))
		if err == nil {
			err = c.QueryRowContext(ctx, "SELECT count(*) FROM "+g.table()).Scan(&n)
		}
		return g.wasRead(n, g.sound(), err)
	}
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
	q := fmt.Sprintf("CREATE OR REPLACE TEMP TABLE st_%s AS SELECT r.rec, %s, CASE%s WHEN %s THEN %d END AS verdict, CAST(NULL AS BIGINT) AS other, r.sure%s FROM %s r",
		g.t.Name, strings.Join(values, ", "), g.whenNotTurned(), strings.Join(coarse, "\n OR "), wrong, file, g.rawTable())
	sound := g.sound()
	if g.direct {
		sound = 0
	}
	if sound > 0 {
		q += " UNION ALL " + g.soundSelect("NULL, ", ", NULL, NULL, true"+strings.TrimSuffix(file, " AS file"))
	}
	n, some := int64(0), int64(0)
	_, err := exec(ctx, c, q)
	if err == nil {
		err = c.QueryRowContext(ctx, "SELECT count(verdict), count(*) FILTER (rec IS NULL) FROM "+g.table()).Scan(&n, &some)
	}
	if sound > 0 {
		err = g.wasRead(some, sound, err)
	}
	if err == nil && n > 0 {
		err = g.explain(ctx, c)
	}
	return err
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
	if !g.staged {
		return nil
	}
	q := fmt.Sprintf("DROP TABLE IF EXISTS %s; DROP TABLE IF EXISTS %s", g.rawTable(), g.table())
	if g.asideNoted {
		q += "; DROP TABLE IF EXISTS " + g.asideTable()
	}
	_, err := exec(ctx, c, q)
	return err
}
