package review

import (
	"context"
	"database/sql"
	"fmt"
	"slices"

	"afterfit/internal/habit"
	"afterfit/queries"
)

// Everywhere as a place stands for every site.
const Everywhere = "all"

// change is a stated change while its estimates come together.
type change struct {
	Change
	kind      string
	from      int // period number
	estimates []ChangeEstimate
	warnings  []string
	cells     []changeCell // of the latest measure
}

// Check returns an error that names what is missing or cannot be read.
func (c Change) Check() error {
	if c.Name == "" {
		return fmt.Errorf("a change has no name")
	}
	if len(c.Where) == 0 {
		return fmt.Errorf("change %q: where is missing: give site codes, or %q", c.Name, Everywhere)
	}
	if _, err := periodNumber(byMonth, c.From); err != nil {
		return fmt.Errorf("change %q: from: %w", c.Name, err)
	}
	return nil
}

// newChanges places the stated changes among periods of a kind.
func (q *asker) newChanges(kind string) ([]*change, error) {
	var out []*change
	for _, c := range q.s.Changes {
		if err := c.Check(); err != nil {
			return nil, err
		}
		from, err := periodNumber(kind, c.From)
		if err != nil {
			return nil, err
		}
		out = append(out, &change{Change: c, kind: kind, from: from})
	}
	return out, nil
}

// placed reports whether the change was made at a site.
func (c *change) placed(site string) bool {
	return slices.Contains(c.Where, Everywhere) || slices.Contains(c.Where, site)
}

// changeCell is one site and period.
type changeCell struct {
	site                  string
	period                int
	n, observed, patients int64
	expected              float64
}

// changePair is what patients shared by two cells add up to.
type changePair struct {
	a, b           int // cells
	oo, oe, eo, ee float64
}

// changeRows reads the cells and pairs that change_outcome or change_habit left.
func (q *asker) changeRows(ctx context.Context, kind string) ([]changeCell, []changePair, error) {
	type key struct{ site, period string }
	var cells []changeCell
	at := map[key]int{}
	err := q.each(ctx, "change_cells", func(rows *sql.Rows) error {
		var k key
		var c changeCell
		var e6 int64
		if err := rows.Scan(&k.site, &k.period, &c.n, &c.observed, &e6, &c.patients); err != nil {
			return err
		}
		var err error
		c.period, err = periodNumber(kind, k.period)
		c.site, c.expected = k.site, float64(e6)/1e6
		at[k] = len(cells)
		cells = append(cells, c)
		return err
	})
	if err != nil {
		return nil, nil, err
	}
	var pairs []changePair
	err = q.each(ctx, "change_pairs", func(rows *sql.Rows) error {
		var a, b key
		var p changePair
		if err := rows.Scan(&a.site, &a.period, &b.site, &b.period, &p.oo, &p.oe, &p.eo, &p.ee); err != nil {
			return err
		}
		p.a, p.b = at[a], at[b]
		p.oe, p.eo, p.ee = p.oe/1e6, p.eo/1e6, p.ee/1e12
		pairs = append(pairs, p)
		return nil
	})
	return cells, pairs, err
}

// changesIn estimates every stated change in one outcome, whose expected events stand
// in mix_expected.
func (q *asker) changesIn(ctx context.Context, changes []*change, outcome string, mean float64) error {
	if len(changes) == 0 {
		return nil
	}
	if err := q.exec(ctx, "change_outcome"); err != nil {
		return err
	}
	for _, c := range changes {
		if err := q.measure(ctx, c, outcome, "per 100 dentures", mean); err != nil {
			return fmt.Errorf("change %q, %s: %w", c.Name, outcome, err)
		}
	}
	return nil
}

// finishChanges adds the habit that a change was to move, first in line since a change
// that moved no habit has nothing to work through.
func (q *asker) finishChanges(ctx context.Context, changes []*change) ([]ChangeResult, error) {
	out := []ChangeResult{}
	for _, c := range changes {
		if h, known := habit.Find(c.What); known {
			if err := q.execFilled(ctx, "change_habit", queries.NameOf(h.Column())); err != nil {
				return nil, err
			}
			if err := q.measure(ctx, c, HabitPrefix+c.What, "% of dentures", 1); err != nil {
				return nil, fmt.Errorf("change %q, habit: %w", c.Name, err)
			}
			last := len(c.estimates) - 1
			c.estimates = append([]ChangeEstimate{c.estimates[last]}, c.estimates[:last]...)
		}
		out = append(out, c.result())
	}
	return out, nil
}

// result gathers what is said of the change as a whole.
func (c *change) result() ChangeResult {
	r := ChangeResult{Change: c.Change, Controls: []string{}, Fineness: c.kind, Estimates: notNil(c.estimates), Warnings: notNil(c.warnings)}
	var places []string
	for _, cell := range c.cells {
		into := &r.Controls
		if c.placed(cell.site) {
			into = &places
		}
		if !slices.Contains(*into, cell.site) {
			*into = append(*into, cell.site)
		}
	}
	switch n := len(r.Controls); {
	case len(places) == 0:
		r.Warnings = append(r.Warnings, "No site of this store is one where the change was made, so nothing can be said of it.")
	case n == 0:
		r.Warnings = append(r.Warnings, "There is no other site to compare with: what else changed at the same time cannot be told apart from the change.")
	default:
		r.Warnings = append(r.Warnings, fmt.Sprintf("Sites changed: %d, others: %d. With so few, the interval covers chance between patients only, not how sites drift apart for reasons of their own; the dates without a change show some of that.", len(places), n))
	}
	return r
}
