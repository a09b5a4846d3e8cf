package mapping

import (
	"context"
	"database/sql"
	"fmt"
	"slices"
	"strings"

	"afterfit/internal/bundle"
)

// proposer works a mapping out for an export that has none.
type proposer struct {
	c      *sql.Conn
	looks  []*SheetLook
	sheets []*guessed
}

// Propose writes a mapping for an export from what its sheets look like. Every
// guess carries its reason in a comment; what could not be guessed is a blank that
// is marked FILL IN and that Parse does not accept. The connection still has the
// tables of LookAt. Name is what the export is called.
func Propose(ctx context.Context, c *sql.Conn, name string, looks []*SheetLook) (string, error) {
	p := &proposer{c: c, looks: looks}
	for _, s := range looks {
		if s.Rows == 0 {
			continue
		}
		g, err := p.guess(ctx, s)
		if err != nil {
			return "", err
		}
		p.sheets = append(p.sheets, g)
	}
	if err := p.overlaps(ctx); err != nil {
		return "", err
	}
	if !slices.ContainsFunc(p.sheets, func(g *guessed) bool { return g.grain == ofCase }) {
		for _, g := range p.sheets {
			if g.grain == ofDenture {
				g.things, _ = assign(candidates(g.SheetLook), thingsOf(ofDenture, true))
			}
		}
	}
	for _, g := range p.sheets {
		g.note()
	}
	w := &writer{p: p, name: name}
	if err := w.plan(ctx); err != nil {
		return "", err
	}
	return w.text(), nil
}

// note writes what columns are taken for into the look itself.
func (g *guessed) note() {
	for thing, f := range g.things {
		col, _ := columnOf(thing)
		unit := ""
		if f.look.Type != "date" && col.Unit != "" {
			unit, _ = unitFor(f, col)
		}
		for i := range g.Columns {
			word := g.Columns[i].Word
			stem := numberedWord.ReplaceAllString(word, "${1}"+turnMark+"${3}")
			if word == f.word || f.turns != nil && (stem == f.word || word+"#"+turnMark == f.word) {
				g.Columns[i].Guess, g.Columns[i].Why, g.Columns[i].Unit = thing, f.why, unit
			}
		}
	}
}

// guess takes a sheet for what its columns fit best among the grains that its
// keys allow.
func (p *proposer) guess(ctx context.Context, s *SheetLook) (*guessed, error) {
	cols := candidates(s)
	keys, _ := assign(cols, []string{caseThing, archThing})
	grains := []grain{ofEvent}
	if id, ok := keys[caseThing]; ok {
		if id.look.Distinct == s.Distinct {
			grains = append(grains, ofCase)
		}
		if arch, ok := keys[archThing]; ok {
			n, err := p.distinct(ctx, s, id, arch)
			if err != nil {
				return nil, err
			}
			if n == s.Distinct {
				grains = append(grains, ofDenture)
			}
		}
	}
	slices.Sort(grains)
	best := &guessed{SheetLook: s, things: map[string]found{}, grain: ofEvent}
	bestSum := 0.0
	for _, g := range grains {
		if things, sum := assign(cols, thingsOf(g, false)); sum > bestSum {
			best.grain, best.things, bestSum = g, things, sum
		}
	}
	return best, nil
}

// distinct counts the different combinations of some columns.
func (p *proposer) distinct(ctx context.Context, s *SheetLook, cols ...found) (n int64, err error) {
	var names []string
	for _, c := range cols {
		names = append(names, fmt.Sprintf("t%d", c.look.at))
	}
	err = p.c.QueryRowContext(ctx, fmt.Sprintf("SELECT count(*) FROM (SELECT DISTINCT %s FROM %s)", strings.Join(names, ", "), s.table)).Scan(&n)
	return n, err
}

// keyOverlap is the share of a column's rows that must hold keys of the cases for
// the column to be taken for the case. House rule, no source.
const keyOverlap = 0.8

// overlaps finds the case in sheets whose words do not tell it: the column whose
// values are the keys of the cases.
func (p *proposer) overlaps(ctx context.Context) error {
	home := p.best("cases", ofCase)
	if home == nil {
		return nil
	}
	key := home.things[caseThing]
	for _, g := range p.sheets {
		if g.has(caseThing) {
			continue
		}
		for _, col := range candidates(g.SheetLook) {
			if col.turns != nil || col.look.Type == "empty" {
				continue
			}
			var share float64
			q := fmt.Sprintf("SELECT coalesce(avg((t%[1]d IN (SELECT t%[2]d FROM %[3]s))::INTEGER), 0) FROM %[4]s WHERE t%[1]d IS NOT NULL", col.look.at, key.look.at, home.table, g.table)
			if err := p.c.QueryRowContext(ctx, q).Scan(&share); err != nil {
				return err
			}
			if share >= keyOverlap {
				col.fit, col.why = 1, fmt.Sprintf("%.0f %% of its values stand in the column %q of %s", 100*share, key.word, home.SheetID)
				p.takeKey(g, col)
				break
			}
		}
	}
	return nil
}

// takeKey makes a column a sheet's key to the cases.
func (p *proposer) takeKey(g *guessed, col found) {
	for thing, f := range g.things {
		if f.word == col.word {
			delete(g.things, thing)
		}
	}
	g.things[caseThing] = col
}

// best is the sheet of a grain that has the most of a table, nil if none has any.
func (p *proposer) best(table string, grains ...grain) *guessed {
	var best *guessed
	most := 0
	for _, g := range p.sheets {
		if n := g.count(table); n > most && slices.Contains(grains, g.grain) && g.has(caseThing) {
			best, most = g, n
		}
	}
	return best
}

// unitFor guesses the unit of a length or a time: what the header says, else the
// unit in which the values lie in the usual range. "" is no guess.
func unitFor(f found, col bundle.Column) (unit, why string) {
	if u, said := unitInHeader(f.word); u != "" && has(unitsOf(col.Unit), u) {
		return u, fmt.Sprintf("the header says %s", said)
	}
	switch col.Unit {
	case "d":
		return "days", "whole numbers, nothing says weeks"
	case "min":
		return "min", fmt.Sprintf("most values lie from %g to %g", f.look.Low, f.look.High)
	}
	usual := col.Soft
	if usual == nil {
		usual = &bundle.Range{Min: 45, Max: 90}
	}
	var fit []string
	for _, u := range []struct {
		name string
		mm   float64
	}{{"mm", 1}, {"cm", 10}, {"in", 25.4}} {
		if f.look.Low*u.mm >= usual.Min && f.look.High*u.mm <= usual.Max {
			fit = append(fit, u.name)
		}
	}
	if len(fit) > 0 && fit[0] == "mm" || len(fit) == 1 {
		return fit[0], fmt.Sprintf("most values lie from %g to %g", f.look.Low, f.look.High)
	}
	return "", fmt.Sprintf("most values lie from %g to %g, which fits no unit alone", f.look.Low, f.look.High)
}
