package mapping

import (
	"context"
	"database/sql"
	"fmt"
	"maps"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"afterfit/internal/bundle"
)

// Names of the columns that a turned table carries beside those of the contract.
// SourceText and a column's name hold the text that the column was turned from.
const (
	FileColumn    = "_file"    // file or sheet that the row came from
	LineColumn    = "_line"    // its line there
	OriginColumn  = "_origin"  // number of the fill and turn, see Table.Words
	ProblemColumn = "_problem" // column of the contract that could not be turned
	ReasonColumn  = "_reason"  // why
	SourceText    = "_src_"
)

// Table is one table of the contract, turned: a CSV with header in the contract's
// order, with the columns named above behind it.
type Table struct {
	Name     string
	Path     string
	Columns  []string // of the contract
	Texts    []string // the columns of the contract that have a SourceText
	Rows     int64
	Words    []map[string]string // by origin: the source's words for a column
	Problems int64
}

// UnknownCode is a word that a column of codes has and the mapping does not.
type UnknownCode struct {
	Table  string `json:"table"`
	Column string `json:"column"`
	Word   string `json:"word"`
	Rows   int64  `json:"rows"`
}

// Turned is what a mapping made of an export.
type Turned struct {
	Tables  []Table // in the order of the contract
	Balance []Balance
	Unknown []UnknownCode
}

// runner turns one export.
type runner struct {
	m       *Mapping
	c       *sql.Conn
	dir     string
	grids   []Grid   // all, numbered as in the SQL
	owners  []string // by grid: its source
	sources []string
	heads   []header          // by grid
	column  map[string]string // by source and folded word: the SQL name of its cell
	native  map[string]bool   // by source
	out     *Turned
	picks   map[string][]pick // by source: when a row and turn is taken
	day0    bool
}

// Run turns an export: the grids of each source, and the rest that no source
// takes. The tables are written to dir. The connection needs nothing in it and
// keeps only temporary tables.
func Run(ctx context.Context, c *sql.Conn, m *Mapping, chosen map[string][]Grid, rest []Grid, dir string, h Hooks) (*Turned, error) {
	m.safe = h.Safe
	r := &runner{m: m, c: c, dir: dir, column: map[string]string{}, native: map[string]bool{}, out: &Turned{Balance: []Balance{}, Unknown: []UnknownCode{}}, picks: map[string][]pick{}}
	r.sources = slices.Sorted(maps.Keys(m.Sources))
	for i, name := range r.sources {
		if err := r.bringIn(ctx, i, name, chosen[name]); err != nil {
			return nil, err
		}
	}
	if err := r.screen(ctx, rest, h); err != nil {
		return nil, err
	}
	if err := r.recordsDays(ctx); err != nil {
		return nil, err
	}
	for i, t := range bundle.Tables {
		if h.Turned != nil {
			h.Turned(i, len(bundle.Tables))
		}
		if err := r.table(ctx, t); err != nil {
			return nil, err
		}
	}
	return r.out, r.balance(ctx, rest)
}

func (r *runner) exec(ctx context.Context, q string) error {
	if _, err := r.c.ExecContext(ctx, q); err != nil {
		return fmt.Errorf("%w (in: %.400s)", err, strings.Join(strings.Fields(q), " "))
	}
	return nil
}

func sourceTable(i int) string { return fmt.Sprintf("temp.src_%d", i) }

// bringIn reads the grids of a source into one table: grid, line, kind, and the
// cleaned cells that the mapping asks for.
func (r *runner) bringIn(ctx context.Context, i int, name string, grids []Grid) error {
	want := r.m.wantedOf(name)
	for j, w := range want {
		r.column[name+"\n"+fold(w.word)] = fmt.Sprintf("w%d", j)
	}
	var parts []string
	for _, g := range grids {
		h, at, err := r.m.locate(name, g)
		if err != nil {
			return err
		}
		r.native[name] = r.native[name] || g.Format != "" && g.Format != "csv"
		parts = append(parts, r.m.gridQuery(len(r.grids), r.m.Sources[name], g, h, want, at))
		r.grids, r.owners, r.heads = append(r.grids, g), append(r.owners, name), append(r.heads, h)
	}
	return r.exec(ctx, "CREATE OR REPLACE TEMP TABLE src_"+strconv.Itoa(i)+" AS "+strings.Join(parts, " UNION ALL "))
}

// ReadGrid is the SQL that reads a grid: its line number n and its cells c0, c1 ... How its
// lines end is said, because DuckDB would take a return within a cell for their end.
func ReadGrid(g Grid) string {
	cols := []string{"n: 'VARCHAR'"}
	for i := range g.Width {
		cols = append(cols, fmt.Sprintf("c%d: 'VARCHAR'", i))
	}
	return fmt.Sprintf(`read_csv(%s, auto_detect=false, header=false, delim=',', quote='"', escape='"', nullstr='', strict_mode=true,
	new_line='\n', null_padding=false, ignore_errors=false, compression='none', hive_partitioning=false, filename=false, max_line_size=4194304, columns={%s})`, lit(g.Path), strings.Join(cols, ", "))
}

// trimmed is the SQL of a cell without the blanks around it, NULL if nothing is left.
func trimmed(x string) string { return "nullif(trim(" + x + ", ' \t\r\n\u00a0\u202f\ufeff'), '')" }

func (m *Mapping) gridQuery(number int, src Source, g Grid, h header, want []wanted, at map[string]int) string {
	var cells, names, out []string
	for i := range g.Width {
		cells = append(cells, fmt.Sprintf("%s AS t%d", trimmed(fmt.Sprintf("c%d", i)), i))
		names = append(names, fmt.Sprintf("t%d", i))
	}
	for j, w := range want {
		out = append(out, fmt.Sprintf("%s AS w%d", m.recorded(fmt.Sprintf("t%d", at[fold(w.word)])), j))
	}
	first := "coalesce(" + strings.Join(names, ", ") + ", NULL)"
	return fmt.Sprintf("SELECT %d AS grid, line, CASE WHEN %s IS NULL THEN 'blank' WHEN line < %d THEN 'title' WHEN %s THEN 'header' WHEN %s THEN 'total' ELSE 'data' END AS kind, %s FROM (SELECT CAST(n AS BIGINT) AS line, %s FROM %s)",
		number, first, h.line, headerAgain(g, h), skipped(first, src), strings.Join(out, ", "), strings.Join(cells, ", "), ReadGrid(g))
}

// recorded leaves out the words that mean not recorded.
func (m *Mapping) recorded(x string) string {
	if len(m.Export.Empty) == 0 {
		return x
	}
	return fmt.Sprintf("CASE WHEN %s NOT IN (%s) THEN %s END", folded(x), foldedList(m.Export.Empty), x)
}

func foldedList(words []string) string {
	quoted := make([]string, len(words))
	for i, w := range words {
		quoted[i] = lit(fold(w))
	}
	return strings.Join(quoted, ", ")
}

// headerAgain is true for the header's line and for its repeats further down.
func headerAgain(g Grid, h header) string {
	same := []string{}
	for _, l := range g.Head {
		if l.Number != h.line {
			continue
		}
		for i := range g.Width {
			if i < len(l.Cells) && strings.TrimFunc(l.Cells[i], isBlank) != "" {
				same = append(same, fmt.Sprintf("t%d IS NOT DISTINCT FROM %s", i, lit(strings.TrimFunc(l.Cells[i], isBlank))))
			}
		}
	}
	return fmt.Sprintf("line = %d OR (%s)", h.line, strings.Join(append(same, "true"), " AND "))
}

func skipped(first string, src Source) string {
	if len(src.Skip) == 0 {
		return "false"
	}
	var any []string
	for _, glob := range src.Skip {
		any = append(any, whole(folded(first), strings.Trim(globPattern(glob), "^$")))
	}
	return "(" + strings.Join(any, " OR ") + ")"
}

// pick says when a turn of a fill takes a row: where the filter holds and the
// turn's own cells are not all empty.
type pick struct {
	table          string
	fill, origin   int
	filter, filled string
}

func (r *runner) turner(f Fill, turn string) *turner {
	return &turner{m: r.m, src: r.m.Sources[f.From], native: r.native[f.From], turn: turn, records: f.Columns["records_on"], ref: func(word string) string {
		return r.column[f.From+"\n"+fold(word)]
	}}
}

// pick writes the filter of a fill for one turn.
func (r *runner) pick(table string, fill, origin int, f Fill, t *turner) pick {
	conds := []string{"true"}
	for _, w := range f.Where {
		x := t.ref(t.set(w.Column))
		switch {
		case len(w.Is) > 0:
			conds = append(conds, fmt.Sprintf("coalesce(%s IN (%s), false)", folded(x), foldedList(w.Is)))
		case len(w.Not) > 0:
			conds = append(conds, fmt.Sprintf("coalesce(%s NOT IN (%s), true)", folded(x), foldedList(w.Not)))
		case *w.Filled:
			conds = append(conds, x+" IS NOT NULL")
		default:
			conds = append(conds, x+" IS NULL")
		}
	}
	own := []string{}
	for _, name := range slices.Sorted(maps.Keys(f.Columns)) {
		for _, w := range f.Columns[name].wordsIn() {
			if isTurned(w) {
				own = append(own, t.ref(t.set(w))+" IS NOT NULL")
			}
		}
	}
	if len(own) == 0 {
		own = []string{"true"}
	}
	return pick{table, fill, origin, "(" + strings.Join(conds, " AND ") + ")", "(" + strings.Join(own, " OR ") + ")"}
}

// recordsDays notes the day of each case's records, if the mapping knows it to
// the day: what dates are counted from.
func (r *runner) recordsDays(ctx context.Context) error {
	var parts []string
	for _, f := range r.m.Cases {
		col := f.Columns["records_on"]
		form := r.m.formOf(r.m.Sources[f.From], col)
		if col.Column == "" || form == nil || !form.day {
			continue
		}
		for _, turn := range f.turns() {
			t := r.turner(f, turn)
			id := t.cell(bundle.Column{Kind: bundle.Text}, f.Columns["case_id"])
			parts = append(parts, fmt.Sprintf("SELECT grid, line, %s AS case_id, %s AS day0 FROM %s WHERE kind = 'data'", id.val, t.date(t.ref(t.set(col.Column)), form), r.tableOf(f)))
		}
	}
	if r.day0 = len(parts) > 0; !r.day0 {
		return nil
	}
	return r.exec(ctx, "CREATE OR REPLACE TEMP TABLE day0 AS SELECT case_id, first(day0 ORDER BY day0 IS NULL, grid, line) AS day0 FROM ("+strings.Join(parts, " UNION ALL ")+") WHERE case_id IS NOT NULL GROUP BY case_id")
}

func (r *runner) tableOf(f Fill) string { return sourceTable(slices.Index(r.sources, f.From)) }

// table turns one table of the contract and writes it.
func (r *runner) table(ctx context.Context, t bundle.Table) error {
	fills := r.m.Fills(t.Name)
	if len(fills) == 0 && !has(r.m.Export.Absent, t.Name) {
		return nil
	}
	b := &tableBuild{t: t, out: Table{Name: t.Name, Path: filepath.Join(r.dir, "turned_"+t.Name+".csv"), Columns: t.Names()}}
	if len(fills) > 0 {
		b.columns(fills)
	}
	for i, f := range fills {
		for _, turn := range f.turns() {
			if err := r.addTurn(b, i, f, turn); err != nil {
				return err
			}
		}
	}
	if err := r.exec(ctx, b.create()); err != nil {
		return err
	}
	if err := r.c.QueryRowContext(ctx, "SELECT count(*), count(problem) FROM "+b.table()).Scan(&b.out.Rows, &b.out.Problems); err != nil {
		return err
	}
	if b.out.Problems > 0 {
		if err := r.unknown(ctx, b); err != nil {
			return err
		}
	}
	if t.Name == "dentures" {
		if err := r.exec(ctx, "CREATE OR REPLACE TEMP TABLE delivered AS SELECT v_case_id AS case_id, v_arch AS arch, first(TRY_CAST(v_delivered_day AS INTEGER) ORDER BY grid, line) AS day FROM "+b.table()+" WHERE problem IS NULL GROUP BY ALL"); err != nil {
			return err
		}
	}
	err := r.exec(ctx, b.copy(r.grids))
	r.out.Tables = append(r.out.Tables, b.out)
	return err
}
