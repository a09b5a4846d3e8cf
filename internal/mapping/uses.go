package mapping

import (
	"context"
	"fmt"
	"strings"

	"afterfit/internal/bundle"
)

// Raw is one sheet of an export as read, before anything is turned: all of its
// columns, those that the mapping names and the others, its rows below the header,
// and the texts above it.
type Raw struct {
	SheetID
	Source  string // of the mapping; "" for a sheet that it does not name
	Table   string // where its cells are, while the Screen hook runs
	Rows    int64  // with those above the header
	Columns []RawColumn
	Titles  []string // cells above the header, in their order
}

// RawColumn is one column of a sheet as read.
type RawColumn struct {
	Word string // of the header
	Cell string // name of its cells in the table
	Uses []ColumnUse
}

// Fate says what is left of a cell where a mapping uses it.
type Fate int

// The fates of a cell.
const (
	Kept       Fate = iota // its text goes on, alone or as a part of a key
	Coded                  // a list of codes takes its place
	Measured               // only a number is left
	Counted                // a date of which only a number of days is left
	Yeared                 // a date of which only the year is left
	PeriodKept             // a date of which more than the year is left
	Banded                 // an age or a birth, of which only the age band is left
)

// ColumnUse is one use of a column.
type ColumnUse struct {
	Table, Column string // of the contract
	Fate          Fate
}

// Hooks lets the caller look at an export before anything of it is turned. Each
// may be nil.
type Hooks struct {
	// Screen sees every sheet; an error ends the run. The tables are gone after it.
	Screen func(ctx context.Context, sheets []Raw) error
	// Safe writes a word of a header as a message may show it.
	Safe func(word string) string
	// Turned is told how many of the tables are turned.
	Turned func(done, total int)
}

// usesOf lists what becomes of each column of a source, by folded word.
func (m *Mapping) usesOf(source string) map[string][]ColumnUse {
	uses := map[string][]ColumnUse{}
	for _, t := range bundle.Tables {
		for _, f := range m.Fills(t.Name) {
			if f.From != source {
				continue
			}
			for _, col := range t.Columns {
				spec, ok := f.Columns[col.Name]
				if !ok {
					continue
				}
				for _, turn := range f.turns() {
					m.use(uses, m.Sources[source], t.Name, col, spec, turn)
				}
			}
		}
	}
	return uses
}

// use notes the uses of one column of the contract.
func (m *Mapping) use(uses map[string][]ColumnUse, src Source, table string, col bundle.Column, spec Column, turn string) {
	for _, alt := range spec.FirstOf {
		m.use(uses, src, table, col, alt, turn)
	}
	note := func(word string, fate Fate) {
		if word != "" && word != turnMark && word != fromRecords && word != fromDelivery {
			word = fold(strings.ReplaceAll(word, turnMark, turn))
			uses[word] = append(uses[word], ColumnUse{table, col.Name, fate})
		}
	}
	for _, w := range spec.Join {
		note(w, Kept)
	}
	note(spec.Day0, Counted)
	note(spec.Since, Counted)
	note(spec.Column, m.fate(src, col, spec))
}

// fate says what is left of the column that a spec names.
func (m *Mapping) fate(src Source, col bundle.Column, spec Column) Fate {
	switch col.Kind {
	case bundle.Text:
		if spec.Codes != "" {
			return Coded
		}
		return Kept
	case bundle.Code, bundle.Codes:
		return Coded
	case bundle.Int, bundle.Length:
		return Measured
	case bundle.Day:
		return Counted
	case bundle.AgeBand:
		return Banded
	}
	if f := m.formOf(src, spec); f != nil && (m.keep(spec) == "year" || !f.month && !f.quarter) {
		return Yeared
	}
	return PeriodKept
}

// Privacy bases that the mapping itself must know; see package privacy.
const (
	safeHarbor     = "safe_harbor"
	limitedDataSet = "limited_data_set"
	consentedLocal = "consented_local"
)

// keep says how much of a date stays: what the column asks for, else as much as
// the basis allows.
func (m *Mapping) keep(spec Column) string {
	if spec.Keep == "" && m.Export.Basis == safeHarbor {
		return "year"
	}
	return spec.Keep
}

// hidesDates reports a basis under which no date may go on, not even in the text
// of a row that is set aside.
func (m *Mapping) hidesDates() bool {
	return m.Export.Basis != limitedDataSet && m.Export.Basis != consentedLocal
}

// hidden is the SQL of the shape of a text: digits as 9, letters as a.
func hidden(x string) string {
	return fmt.Sprintf(`regexp_replace(regexp_replace(%s, '[0-9]', '9', 'g'), '\p{L}', 'a', 'g')`, x)
}

// screen shows the caller every sheet as read.
func (r *runner) screen(ctx context.Context, rest []Grid, h Hooks) error {
	if h.Screen == nil {
		return nil
	}
	var raws []Raw
	for i, g := range r.grids {
		raw, err := r.raw(ctx, len(raws), g, r.heads[i], r.m.usesOf(r.owners[i]))
		if err != nil {
			return err
		}
		raw.Source = r.owners[i]
		raws = append(raws, raw)
	}
	for _, g := range rest {
		head, ok := likelyHeader(g)
		if !ok {
			head = header{words: headerWords(nil, g.Width)}
		}
		raw, err := r.raw(ctx, len(raws), g, head, nil)
		if err != nil {
			return err
		}
		raws = append(raws, raw)
	}
	err := h.Screen(ctx, raws)
	for _, raw := range raws {
		if err == nil && raw.Table != "" {
			err = r.exec(ctx, "DROP TABLE "+raw.Table)
		}
	}
	return err
}

// raw brings a whole grid below its header into a table of its own.
func (r *runner) raw(ctx context.Context, number int, g Grid, h header, uses map[string][]ColumnUse) (Raw, error) {
	raw := Raw{SheetID: g.SheetID, Rows: g.Rows}
	if g.Width == 0 {
		return raw, nil
	}
	for _, l := range g.Head {
		for _, cell := range l.Cells {
			if cell = strings.TrimSpace(cell); l.Number < h.line && cell != "" {
				raw.Titles = append(raw.Titles, cell)
			}
		}
	}
	var cells []string
	for i, word := range h.words {
		name := fmt.Sprintf("t%d", i)
		cells = append(cells, trimmed(fmt.Sprintf("c%d", i))+" AS "+name)
		raw.Columns = append(raw.Columns, RawColumn{Word: word, Cell: name, Uses: uses[fold(strings.TrimSuffix(word, "#1"))]})
		if more := uses[fold(word)+"#1"]; more != nil {
			raw.Columns[i].Uses = append(raw.Columns[i].Uses, more...)
		}
	}
	raw.Table = fmt.Sprintf("temp.raw_sheet_%d", number)
	return raw, r.exec(ctx, fmt.Sprintf("CREATE OR REPLACE TEMP TABLE raw_sheet_%d AS SELECT * EXCLUDE (line) FROM (SELECT CAST(n AS BIGINT) AS line, %s FROM %s) WHERE line > %d AND NOT (%s)",
		number, strings.Join(cells, ", "), ReadGrid(g), h.line, headerAgain(g, h)))
}
