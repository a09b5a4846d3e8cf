package review

import (
	"cmp"
	"fmt"
	"maps"
	"slices"

	"afterfit/internal/habit"
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

// changeRow is what a denture brings to a site and period: events, and expected ones in
// billionths; ok is false where it brings nothing.
type changeRow func(i int) (y, e int64, ok bool)

// changeRows sums the cells, and what their patients have in common.
func (d *mixData) changeRows(kind string, of changeRow) ([]changeCell, []changePair, error) {
	type sum struct {
		place   int
		n, y, e int64 // e in millionths
	}
	cells, e6 := make([]changeCell, len(d.places)), make([]int64, len(d.places))
	products := map[[2]int]*[4]wideSum{}
	var own []sum
	for p := range len(d.d.patients) - 1 {
		own = own[:0]
		for i := int(d.d.patients[p]); i < int(d.d.patients[p+1]); i++ {
			place := d.cells[d.cell[i]].place
			y, e, ok := of(i)
			if place < 0 || !ok {
				continue
			}
			at := slices.IndexFunc(own, func(s sum) bool { return s.place == place })
			if at < 0 {
				at, own = len(own), append(own, sum{place: place})
			}
			own[at].n, own[at].y, own[at].e = own[at].n+1, own[at].y+y, own[at].e+e
		}
		for k := range own {
			own[k].e /= 1000
		}
		for _, a := range own {
			c := &cells[a.place]
			c.n, c.observed, c.patients = c.n+a.n, c.observed+a.y, c.patients+1
			e6[a.place] += a.e
			for _, b := range own {
				s := products[[2]int{a.place, b.place}]
				if s == nil {
					s = &[4]wideSum{}
					products[[2]int{a.place, b.place}] = s
				}
				s[0].add(a.y, b.y)
				s[1].add(a.y, b.e)
				s[2].add(a.e, b.y)
				s[3].add(a.e, b.e)
			}
		}
	}
	return d.changeSums(kind, cells, e6, products)
}

// changeSums leaves out the places where nothing was brought.
func (d *mixData) changeSums(kind string, cells []changeCell, e6 []int64, products map[[2]int]*[4]wideSum) ([]changeCell, []changePair, error) {
	at, out := make([]int, len(cells)), []changeCell(nil)
	for i, c := range cells {
		if c.patients == 0 {
			continue
		}
		var err error
		if c.period, err = periodNumber(kind, d.places[i].period); err != nil {
			return nil, nil, err
		}
		c.site, c.expected = d.places[i].site, float64(e6[i])/1e6
		at[i] = len(out)
		out = append(out, c)
	}
	keys := slices.Collect(maps.Keys(products))
	slices.SortFunc(keys, func(a, b [2]int) int { return cmp.Or(cmp.Compare(a[0], b[0]), cmp.Compare(a[1], b[1])) })
	var pairs []changePair
	for _, k := range keys {
		s := products[k]
		pairs = append(pairs, changePair{at[k[0]], at[k[1]], s[0].value(), s[1].value() / 1e6, s[2].value() / 1e6, s[3].value() / 1e12})
	}
	return out, pairs, nil
}

// changesIn estimates every stated change in one outcome.
func (q *asker) changesIn(m *mixExpected, changes []*change, mean float64) error {
	if len(changes) == 0 {
		return nil
	}
	outcome := m.outcome.Name.String()
	for _, c := range changes {
		cells, pairs, err := m.changeRows(c.kind, func(i int) (y, e int64, ok bool) { return m.outcome.events(i), m.e[i], m.e[i] > 0 })
		if err != nil {
			return err
		}
		if err := q.measure(c, cells, pairs, outcome, "per 100 dentures", mean); err != nil {
			return fmt.Errorf("change %q, %s: %w", c.Name, outcome, err)
		}
	}
	return nil
}

// add takes over what was estimated of the same change in another outcome.
func (c *change) add(o *change) {
	c.estimates = append(c.estimates, o.estimates...)
	if o.cells != nil {
		c.cells = o.cells
	}
}

// finishChanges adds the habit that a change was to move, first in line since a change
// that moved no habit has nothing to work through.
func (q *asker) finishChanges(d *mixData, changes []*change) ([]ChangeResult, error) {
	out := []ChangeResult{}
	for _, c := range changes {
		if h, known := habit.Find(c.What); known {
			sides := d.d.habits[h.Column()]
			cells, pairs, err := d.changeRows(c.kind, func(i int) (y, e int64, ok bool) {
				return int64(sideOf(sides[i])), 1_000_000_000, sideOf(sides[i]) != notAssessable
			})
			if err != nil {
				return nil, err
			}
			if err := q.measure(c, cells, pairs, HabitPrefix+c.What, "% of dentures", 1); err != nil {
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
