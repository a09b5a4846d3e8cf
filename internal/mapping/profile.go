package mapping

import (
	"context"
	"database/sql"
	"fmt"
	"strconv"
	"strings"
)

// SheetLook is what a file or sheet of an export holds, as far as looking tells.
type SheetLook struct {
	SheetID
	Format    string       `json:"format"`
	Encoding  string       `json:"encoding,omitempty"`
	Delimiter string       `json:"delimiter,omitempty"`
	Rows      int64        `json:"rows"`        // of data
	Distinct  int64        `json:"rows_unlike"` // of these, without exact repeats
	Header    int64        `json:"header_line"`
	Title     []string     `json:"title"`  // texts above the header
	Totals    []string     `json:"totals"` // first cells of lines that look like totals
	Columns   []ColumnLook `json:"columns"`

	table string // where its cells are: t0, t1 ...
}

// Table and Cell name where the cells of a column stand while the connection of
// LookAt is open.
func (s *SheetLook) Table() string { return s.table }

// Cell is the name of column i of the look.
func (s *SheetLook) Cell(i int) string { return fmt.Sprintf("t%d", s.Columns[i].at) }

// ColumnLook is what one column holds.
type ColumnLook struct {
	Word     string       `json:"column"`
	Filled   float64      `json:"filled"`   // share of the rows with anything in the cell, in [0,1]
	Distinct int64        `json:"distinct"` // different values
	Type     string       `json:"type"`     // empty, whole number, number, date, period, word or text
	Form     string       `json:"form,omitempty"`
	Also     string       `json:"also_form,omitempty"` // another form that fits as well
	Comma    bool         `json:"decimal_comma,omitempty"`
	Low      float64      `json:"low,omitempty"` // 5 % and 95 % points of the numbers
	High     float64      `json:"high,omitempty"`
	Odd      []ValueCount `json:"odd"`              // values of another type, the first few
	Values   []ValueCount `json:"values,omitempty"` // all values, where there are few
	Guess    string       `json:"guess,omitempty"`  // column of the contract that it may be
	Why      string       `json:"guess_reason,omitempty"`
	Unit     string       `json:"unit_guess,omitempty"`
	Folded   int64        `json:"-"`                // different values, capitals aside
	Masked   bool         `json:"masked,omitempty"` // looks like something of a person: values are left out or masked

	at int // column of the grid
}

// ValueCount is a value and the number of rows that have it.
type ValueCount struct {
	Value string `json:"value"`
	Rows  int64  `json:"rows"`
}

// Limits of what a look lists and when it trusts a type.
const (
	fewValues = 40   // so many different values are listed
	oddShown  = 3    // odd values listed
	mostly    = 0.95 // share of the cells that must fit a type
)

// forms of dates and periods that a look tries, the more common first.
var (
	dateForms   = []string{"dd.mm.yyyy", "yyyy-mm-dd", "dd/mm/yyyy", "mm/dd/yyyy", "dd-mm-yyyy", "yyyy/mm/dd", "dd.mm.yy", "dd/mm/yy", "mm/dd/yy"}
	periodForms = []string{"Qq yyyy", "yyyy-Qq", "yyyy Qq", "q/yyyy", "Qq/yyyy", "mm/yyyy", "mm.yyyy", "yyyy-mm"}
)

// LookAt looks a grid through. The connection keeps a temporary table with number
// n of its cells.
func LookAt(ctx context.Context, c *sql.Conn, n int, g Grid) (*SheetLook, error) {
	s := &SheetLook{SheetID: g.SheetID, Format: g.Format, Encoding: g.Encoding, Delimiter: g.Delimiter, Title: []string{}, Totals: []string{}, Columns: []ColumnLook{}, table: fmt.Sprintf("temp.look_%d", n)}
	h, ok := likelyHeader(g)
	if !ok {
		return s, nil
	}
	s.Header = h.line
	for _, l := range g.Head {
		if l.Number < h.line {
			s.Title = append(s.Title, strings.TrimSpace(strings.Join(l.Cells, " ")))
		}
	}
	if err := s.bringIn(ctx, c, n, g, h); err != nil {
		return nil, err
	}
	for i, word := range h.words {
		col := ColumnLook{Word: word, at: i, Odd: []ValueCount{}}
		if err := s.column(ctx, c, &col); err != nil {
			return nil, err
		}
		s.Columns = append(s.Columns, col)
	}
	return s, nil
}

// likelyHeader takes the line that has the most words which practices use for
// columns; if none has two, the first line that is filled the most.
func likelyHeader(g Grid) (header, bool) {
	best, bestScore := header{}, 0.0
	for _, l := range g.Head {
		h := header{l.Number, headerWords(l.Cells, g.Width)}
		known, filled := 0, 0
		for i, word := range h.words {
			if i < len(l.Cells) && strings.TrimFunc(l.Cells[i], isBlank) != "" {
				filled++
				if isKnownHeader(word) {
					known++
				}
			}
		}
		score := float64(filled) / float64(g.Width+1)
		if known >= 2 {
			score += float64(known)
		}
		if score > bestScore {
			best, bestScore = h, score
		}
	}
	return best, bestScore > 0
}

// isKnownHeader reports a word that stands for something; numbers never do.
func isKnownHeader(word string) bool {
	if _, err := strconv.ParseFloat(strings.ReplaceAll(word, ",", "."), 64); err == nil {
		return false
	}
	for thing := range words().Headers {
		if fit, _ := headerFit(word, thing); fit >= goodFit {
			return true
		}
	}
	return false
}

// bringIn reads the cells below the header into the look's own table and leaves
// out the lines that look like totals: first cell a word for it, few cells filled.
func (s *SheetLook) bringIn(ctx context.Context, c *sql.Conn, n int, g Grid, h header) error {
	var cells, filled []string
	for i := range g.Width {
		cells = append(cells, fmt.Sprintf("%s AS t%d", trimmed(fmt.Sprintf("c%d", i)), i))
		filled = append(filled, fmt.Sprintf("(t%d IS NOT NULL)::INTEGER", i))
	}
	q := fmt.Sprintf(`CREATE OR REPLACE TEMP TABLE look_%d AS SELECT * FROM (SELECT CAST(n AS BIGINT) AS line, %s FROM %s) WHERE line > %d AND NOT (%s)`,
		n, strings.Join(cells, ", "), ReadGrid(g), h.line, headerAgain(g, h))
	if _, err := c.ExecContext(ctx, q); err != nil {
		return err
	}
	var first []string
	for i := range g.Width {
		first = append(first, fmt.Sprintf("t%d", i))
	}
	few := fmt.Sprintf("%s <= greatest(2, %d)", strings.Join(filled, " + "), g.Width/3)
	one := "coalesce(" + strings.Join(first, ", ") + ", '')"
	var rules []string
	for _, w := range words().Rows["total"] {
		rules = append(rules, fmt.Sprintf("lower(%s) = '%s' OR regexp_matches(lower(%s), '^%s[^a-z]')", one, w, one, w))
	}
	total := fmt.Sprintf("(%s) AND (%s)", few, strings.Join(rules, " OR "))
	rows, err := textsOf(ctx, c, fmt.Sprintf("SELECT DISTINCT %s FROM %s WHERE %s ORDER BY 1", one, s.table, total))
	if err != nil {
		return err
	}
	s.Totals = append(s.Totals, rows...)
	if _, err := c.ExecContext(ctx, fmt.Sprintf("DELETE FROM %s WHERE %s OR %s = ''", s.table, total, one)); err != nil {
		return err
	}
	return c.QueryRowContext(ctx, fmt.Sprintf("SELECT (SELECT count(*) FROM %[1]s), (SELECT count(*) FROM (SELECT DISTINCT %[2]s FROM %[1]s))", s.table, strings.Join(first, ", "))).Scan(&s.Rows, &s.Distinct)
}

// textsOf reads a query's only column of text.
func textsOf(ctx context.Context, c *sql.Conn, q string) (out []string, err error) {
	rows, err := c.QueryContext(ctx, q)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	for rows.Next() {
		var s string
		if err := rows.Scan(&s); err != nil {
			return nil, err
		}
		out = append(out, s)
	}
	return out, rows.Err()
}

const (
	wholePattern  = `[+-]?\d{1,9}`
	numberPattern = `[+-]?\d{1,9}([.,]\d+)?`
)

// column counts what the cells of a column look like.
func (s *SheetLook) column(ctx context.Context, c *sql.Conn, col *ColumnLook) error {
	x := fmt.Sprintf("t%d", col.at)
	tests := []string{whole(x, wholePattern), whole(x, numberPattern), whole(x, `[+-]?\d+,\d+`)}
	forms := append(append([]string{}, dateForms...), periodForms...)
	t := &turner{m: &Mapping{}}
	for _, text := range forms {
		f, err := parseForm(text)
		if err != nil {
			return err
		}
		if f.strptime == "" {
			tests = append(tests, whole(x, f.pattern))
		} else {
			tests = append(tests, t.date(x, f)+" IS NOT NULL")
		}
	}
	counts, dest := make([]int64, len(tests)), []any{}
	q := fmt.Sprintf("SELECT count(%s), count(DISTINCT %s), count(DISTINCT lower(%s))", x, x, x)
	var filled int64
	dest = append(dest, &filled, &col.Distinct, &col.Folded)
	for i, test := range tests {
		q += ", count(*) FILTER (" + test + ")"
		dest = append(dest, &counts[i])
	}
	if err := c.QueryRowContext(ctx, q+" FROM "+s.table).Scan(dest...); err != nil {
		return err
	}
	if s.Rows > 0 {
		col.Filled = float64(filled) / float64(s.Rows)
	}
	odd := col.decide(filled, counts, forms, tests)
	return s.details(ctx, c, col, x, odd)
}

// decide gives the column its type and returns the test that its cells should
// pass, "" if any text may stand there.
func (col *ColumnLook) decide(filled int64, counts []int64, forms, tests []string) (test string) {
	enough := func(n int64) bool { return filled > 0 && float64(n) >= mostly*float64(filled) }
	switch {
	case filled == 0:
		col.Type = "empty"
		return ""
	case enough(counts[0]):
		col.Type = "whole number"
		return tests[0]
	case enough(counts[1]):
		col.Type, col.Comma = "number", counts[2] > 0
		return tests[1]
	}
	for i, form := range forms {
		n := counts[3+i]
		switch {
		case !enough(n):
		case col.Form == "":
			col.Form, col.Type, test = form, "date", tests[3+i]
			if i >= len(dateForms) {
				col.Type = "period"
			}
		case n == filled && col.Also == "" && i < len(dateForms):
			col.Also = form
		}
	}
	if col.Form != "" {
		return test
	}
	col.Type = "text"
	if col.Distinct <= fewValues && filled >= 3*col.Distinct {
		col.Type = "word"
	}
	return ""
}

// details reads the range of numbers, the odd values and the list of few values.
func (s *SheetLook) details(ctx context.Context, c *sql.Conn, col *ColumnLook, x, test string) (err error) {
	if strings.HasSuffix(col.Type, "number") {
		n := fmt.Sprintf("TRY_CAST(replace(%s, ',', '.') AS DOUBLE)", x)
		var low, high sql.NullFloat64
		if err := c.QueryRowContext(ctx, fmt.Sprintf("SELECT quantile_disc(%[1]s, 0.05), quantile_disc(%[1]s, 0.95) FROM %[2]s WHERE %[3]s", n, s.table, test)).Scan(&low, &high); err != nil {
			return err
		}
		col.Low, col.High = low.Float64, high.Float64
	}
	if test != "" {
		col.Odd, err = valueCounts(ctx, c, fmt.Sprintf("SELECT %[1]s, count(*) FROM %[2]s WHERE %[1]s IS NOT NULL AND NOT (%[3]s) GROUP BY 1 ORDER BY 2 DESC, 1 LIMIT %[4]d", x, s.table, test, oddShown))
		if err != nil {
			return err
		}
	}
	if col.Distinct > 0 && col.Distinct <= fewValues {
		col.Values, err = valueCounts(ctx, c, fmt.Sprintf("SELECT %[1]s, count(*) FROM %[2]s WHERE %[1]s IS NOT NULL GROUP BY 1 ORDER BY 1", x, s.table))
	}
	return err
}

func valueCounts(ctx context.Context, c *sql.Conn, q string) ([]ValueCount, error) {
	out := []ValueCount{}
	rows, err := c.QueryContext(ctx, q)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	for rows.Next() {
		var v ValueCount
		if err := rows.Scan(&v.Value, &v.Rows); err != nil {
			return nil, err
		}
		out = append(out, v)
	}
	return out, rows.Err()
}
