package intake

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"slices"
	"strings"

	"afterfit/internal/bundle"
	"afterfit/internal/privacy"
	"afterfit/queries"
)

// screen looks through every table for what could identify people, before the
// load writes anything. A cell that its column's strict rules take (a code, a
// length, a day number) identifies nobody, so coded and numeric columns are looked
// at only where a rule is broken.
func (l *loader) screen(ctx context.Context, c *sql.Conn) error {
	basis := privacy.Basis(l.res.Note.Basis)
	findings := []privacy.Finding{}
	for i, g := range l.stages {
		l.progress("screening", i)
		if g.sheet == nil {
			continue
		}
		some, err := g.screen(ctx, c, basis)
		if err != nil {
			return err
		}
		findings = append(findings, some...)
		if f := g.sifted(); f != nil {
			f.spans = nil
		}
	}
	where := noteFile + ": [[cleared]] with its table, column, kind and a reason"
	l.res.Privacy, l.res.Cleared = privacy.Clear(findings, l.res.Note.Cleared)
	s := l.raw
	if s == nil {
		return identified(basis, l.res.Privacy, where)
	}
	where = s.mapping + ": [[cleared]] with its table, column, kind and a reason"
	rest, _ := privacy.Clear(l.res.Privacy, s.carried)
	l.res.Privacy, l.res.Cleared = append(slices.Clone(s.found), rest...), append(slices.Clone(s.used), l.res.Cleared...)
	return identified(basis, append(slices.Clone(s.found), l.inWords(rest)...), where)
}

// inWords names the columns of an export that a mapping turned, for findings in what the
// mapping made of them; only the mapping knows of the contract's columns.
func (l *loader) inWords(findings []privacy.Finding) []privacy.Finding {
	findings = slices.Clone(findings)
	for i := range findings {
		f := &findings[i]
		g := find(l.stages, f.Table)
		if g == nil || !g.turned() {
			continue
		}
		var words []string
		for _, by := range g.sheet.Turned.Words {
			if word := by[f.Column]; word != "" && !contains(words, word) {
				words = append(words, word)
			}
		}
		if len(words) > 0 {
			f.Remedy += fmt.Sprintf(", or change what the mapping makes of it; it is table %q, column %q to clear", f.Table, f.Column)
			f.Column = strings.Join(words, " or ")
		}
	}
	return findings
}

// risk measures the small cells of what the export brings, whether or not the store has
// it already. An empty store is asked after its rows are in.
func (l *loader) risk(ctx context.Context, c *sql.Conn, of riskCases) (err error) {
	l.res.Risk, err = smallCells(ctx, c, of)
	return err
}

// identified refuses the export when a finding stops it. It names columns, kinds
// and shapes, never a value. Where says how a column is cleared.
func identified(basis privacy.Basis, findings []privacy.Finding, where string) error {
	r := &Refusal{}
	for _, f := range findings {
		if f.Stops {
			r.Faults = append(r.Faults, PrivacyFault(f))
		}
	}
	if len(r.Faults) == 0 {
		return nil
	}
	r.Reason = fmt.Sprintf("nothing was loaded: this could identify people (basis: %s). Local law and whoever is responsible for privacy decide what may be loaded. "+
		"A column that is no such thing can be cleared in %s", BasisWords(basis), where)
	return r
}

// BasisWords names a basis for a message.
func BasisWords(b privacy.Basis) string {
	if b == privacy.Unstated {
		return "not stated, so judged as strictly as safe_harbor"
	}
	return string(b)
}

// PrivacyFault writes a finding as a fault.
func PrivacyFault(f privacy.Finding) Fault {
	return Fault{Table: f.Table, File: f.File, Column: f.Column, Remedy: f.Remedy,
		Found: fmt.Sprintf("%s in %s, kind %s, shaped like %q", f.Found, bundle.Counted(f.Rows, "row", "rows"), f.Kind, f.Example)}
}

// screen looks through the columns of one staged table.
func (g *stage) screen(ctx context.Context, c *sql.Conn, basis privacy.Basis) ([]privacy.Finding, error) {
	var wrongRows int64
	if !g.allSound() {
		if err := c.QueryRowContext(ctx, "SELECT count(verdict) FROM "+g.table()).Scan(&wrongRows); err != nil {
			return nil, err
		}
	}
	var findings []privacy.Finding
	for _, col := range g.t.Columns {
		from := g.rawTable()
		where := "true"
		switch {
		case !contains(g.sheet.Header, col.Name):
			continue
		case col.Name == g.t.ParentBy && g.allSound():
			continue
		case col.Name == g.t.ParentBy: // what the parent has was looked at there
			where = fmt.Sprintf("NOT r.sure AND NOT EXISTS (SELECT 1 FROM temp.raw_%s p WHERE p.%[2]s = r.%[2]s)", g.t.Parent, col.Name)
		case col.Kind == bundle.Text || col.Kind == bundle.Period:
			if f := g.sifted(); f != nil {
				if some, done := screenSifted(basis, about(g.t, g.sheet, col.Name), f.spans[col.Name]); done {
					findings = append(findings, some...)
					continue
				}
				from = g.from()
			}
		case wrongRows == 0:
			continue
		default:
			where = "r.rec IN (SELECT rec FROM " + g.table() + " WHERE verdict IS NOT NULL) AND (" + strings.Join(coarse(col), " OR ") + ")"
		}
		some, err := screenColumn(ctx, c, basis, about(g.t, g.sheet, col.Name), from+" r WHERE "+where, raw(col.Name))
		if err != nil {
			return nil, err
		}
		findings = append(findings, some...)
	}
	return findings, nil
}

// screenSifted judges a column by what the look-through gathered of it; done is false
// where its values must be fetched.
func screenSifted(basis privacy.Basis, col privacy.Column, of *spans) (findings []privacy.Finding, done bool) {
	if col.Spans = of.list(); len(col.Spans) == 0 {
		return nil, true
	}
	if suspects := privacy.Suspects(col); len(suspects) > 0 {
		if col.Values, done = of.values(suspects); !done {
			return nil, false
		}
	}
	return privacy.Check(basis, col), true
}

// screenSheet looks through every column of a sheet as read, of the contract or
// not. Its cells stand in the table named, column i of the header under names[i].
func screenSheet(ctx context.Context, c *sql.Conn, basis privacy.Basis, t bundle.Table, sheet *Sheet, table string, names []string) ([]privacy.Finding, error) {
	findings := []privacy.Finding{}
	for i, header := range sheet.Header {
		from := table + " r WHERE true"
		if col, ok := t.Column(header); ok && col.Kind != bundle.Text && col.Kind != bundle.Period {
			from = fmt.Sprintf("(SELECT %s AS %s FROM %s) r WHERE %s", names[i], header, table, strings.Join(coarse(col), " OR "))
			some, err := screenColumn(ctx, c, basis, about(t, sheet, header), from, raw(header))
			if err != nil {
				return nil, err
			}
			findings = append(findings, some...)
			continue
		}
		some, err := screenColumn(ctx, c, basis, about(t, sheet, header), from, raw(names[i]))
		if err != nil {
			return nil, err
		}
		findings = append(findings, some...)
	}
	return findings, nil
}

// coarse lists the conditions under which a cell breaks its column's rules.
func coarse(col bundle.Column) []string {
	var when []string
	for _, r := range cellRules(col) {
		if !r.finer {
			when = append(when, "("+r.when+")")
		}
	}
	return when
}

func about(t bundle.Table, sheet *Sheet, header string) privacy.Column {
	col, known := t.Column(header)
	return privacy.Column{Table: t.Name, File: sheet.File, Name: header, InContract: known,
		Pseudonym: known && header == "patient_key", Period: known && col.Kind == bundle.Period}
}

// screenColumn groups a column's distinct values by shape in the database, and
// fetches only those whose shape could be an identifier.
func screenColumn(ctx context.Context, c *sql.Conn, basis privacy.Basis, col privacy.Column, from, x string) ([]privacy.Finding, error) {
	distinct := fmt.Sprintf("SELECT x, n, %s AS shape FROM (SELECT %s AS x, count(*) AS n FROM %s AND %s <> '' GROUP BY 1)", privacy.ShapeSQL, x, parenthesised(from), x)
	rows, err := c.QueryContext(ctx, "SELECT shape, count(*), CAST(sum(n) AS BIGINT), min(x), max(x) FROM ("+distinct+") GROUP BY shape ORDER BY shape")
	if err != nil {
		return nil, err
	}
	err = each(rows, func() error {
		var s privacy.Span
		defer func() { col.Spans = append(col.Spans, s) }()
		return rows.Scan(&s.Shape, &s.Distinct, &s.Rows, &s.Min, &s.Max)
	})
	if err != nil || len(col.Spans) == 0 {
		return nil, err
	}
	if suspects := privacy.Suspects(col); len(suspects) > 0 {
		if listed := shapesListed(col.Spans, suspects); listed != "" {
			distinct = "SELECT * FROM (" + distinct + ") WHERE shape " + listed
		}
		if rows, err = c.QueryContext(ctx, "SELECT x, n FROM ("+distinct+")"); err != nil {
			return nil, err
		}
		err = each(rows, func() error {
			var v privacy.Value
			defer func() { col.Values = append(col.Values, v) }()
			return rows.Scan(&v.Text, &v.Rows)
		})
	}
	if err != nil {
		return nil, err
	}
	return privacy.Check(basis, col), nil
}

// maxListed is how many shapes are written into a statement; where neither the suspects nor
// the others are as few, all values are fetched.
const maxListed = 200

// shapesListed is the condition that leaves the values of suspects, "" for none. Both lists
// are in the order of the shapes' bytes.
func shapesListed(all []privacy.Span, suspects []string) string {
	others := len(all) - len(suspects)
	switch {
	case others == 0:
		return ""
	case len(suspects) < maxListed:
		return "IN (" + literals(suspects) + ")"
	case others < maxListed:
		var list []string
		for _, s := range all {
			if _, suspect := slices.BinarySearch(suspects, s.Shape); !suspect {
				list = append(list, s.Shape)
			}
		}
		return "NOT IN (" + literals(list) + ")"
	}
	return ""
}

// parenthesised keeps a condition with OR together before another is added.
func parenthesised(from string) string {
	table, where, _ := strings.Cut(from, " r WHERE ")
	return table + " r WHERE (" + where + ")"
}

// each runs fn on every row and closes the rows.
func each(rows *sql.Rows, fn func() error) error {
	defer rows.Close()
	for rows.Next() {
		if err := fn(); err != nil {
			return err
		}
	}
	return rows.Err()
}

// riskCases is where smallCells finds the cases of an export and their remakes.
type riskCases struct {
	cases, remakes string // SQL after FROM; "" = an export without remakes
}

// stagedCases are the cases of an export before they are stored. Without a table of
// remakes the outcome of nobody is known.
func stagedCases(stages []*stage) riskCases {
	r := riskCases{cases: find(stages, "cases").table() + " WHERE verdict IS NULL"}
	if g := find(stages, "remakes"); g != nil && g.sheet != nil {
		r.remakes = g.table() + " WHERE verdict IS NULL"
	}
	return r
}

// storedCases are the cases of an export that an empty store took in.
func storedCases(stages []*stage) riskCases {
	r := riskCases{cases: "main.cases"}
	if find(stages, "remakes").sheet != nil {
		r.remakes = "main.remakes"
	}
	return r
}

// smallCells measures how many of an export's cases stand alone.
func smallCells(ctx context.Context, c *sql.Conn, of riskCases) (privacy.Risk, error) {
	outcome, known := "false", of.remakes != ""
	if known {
		outcome = "case_id IN (SELECT case_id FROM " + of.remakes + ")"
	}
	q := fmt.Sprintf("CREATE OR REPLACE TEMP VIEW privacy_cases AS SELECT age_band, sex, site, records_on, CAST(ridge_class AS VARCHAR) AS ridge_class, %s AS has_outcome FROM %s", outcome, of.cases)
	if _, err := exec(ctx, c, q); err != nil {
		return privacy.Risk{}, err
	}
	rows, err := c.QueryContext(ctx, queries.Text("small_cells"))
	if err != nil {
		return privacy.Risk{}, err
	}
	var cells []privacy.Cell
	err = each(rows, func() error {
		var x privacy.Cell
		defer func() { cells = append(cells, x) }()
		return rows.Scan(&x.Age, &x.Sex, &x.Site, &x.Period, &x.Class, &x.Cases, &x.Outcome)
	})
	if err != nil {
		return privacy.Risk{}, err
	}
	_, err = exec(ctx, c, "DROP VIEW temp.privacy_cases")
	return privacy.SmallCells(cells, known), err
}

func find(stages []*stage, table string) *stage {
	for _, g := range stages {
		if g.t.Name == table {
			return g
		}
	}
	return nil
}

// lookAtRisk measures small cells of an export that is only looked at; nil where
// its cases cannot be read as the contract says.
func lookAtRisk(ctx context.Context, c *sql.Conn, src Source, report *LookReport, scratch string) (*privacy.Risk, error) {
	var stages []*stage
	for _, look := range report.Tables {
		if look.Table != "cases" && look.Table != "remakes" || !look.Present || look.Problem != "" {
			continue
		}
		t, _ := bundle.Find(look.Table)
		sheet, err := src.Read(ctx, t.Name, scratch)
		if err != nil {
			return nil, err
		}
		g := &stage{t: t, sheet: sheet}
		stages = append(stages, g)
		if err := errors.Join(g.read(ctx, c), g.judge(ctx, c)); err != nil {
			return nil, err
		}
	}
	if find(stages, "cases") == nil {
		return nil, nil
	}
	risk, err := smallCells(ctx, c, stagedCases(stages))
	for _, g := range stages {
		err = errors.Join(err, g.drop(ctx, c))
	}
	return &risk, err
}

// withoutLine keeps the first sentence of what DuckDB says about a file that it
// cannot read: the rest quotes the line, which may name a person.
func withoutLine(err error) error {
	if !strings.Contains(err.Error(), "Original Line") {
		return err
	}
	first, _, _ := strings.Cut(err.Error(), "\n")
	return errors.New(first)
}
