package review

import (
	"cmp"
	"context"
	"slices"
	"strings"
)

// mixPlace is a cell's place in each dimension of units, as a number of its code, and its
// period. Site and period together are a place; none is -1.
type mixPlace struct {
	unit   [3]int // in the order of unitDimensions
	place  int
	period string
}

// mixPeriod is a site and a period of records.
type mixPeriod struct{ site, period string }

// periods are the dentures' periods of records as a column; one that is coarser than asked
// for is none.
func (d *dentures) periods(kind string) *codes {
	on, quarter := d.codes["records_on"], d.codes["quarter"]
	names := make([]string, len(on.levels))
	numbers := make([]uint32, d.n)
	for i := range numbers {
		at := on.at(i)
		if at == len(on.levels) {
			continue
		}
		written, name := on.levels[at], ""
		switch {
		case kind == byYear:
			name = written[:min(4, len(written))]
		case kind == byQuarter && len(written) > 4:
			name = quarter.levels[quarter.at(i)]
		case kind == byMonth && len(written) >= 7 && !strings.Contains(written, "Q"):
			name = written[:7]
		}
		if names[at] = name; name != "" {
			numbers[i] = uint32(at + 1)
		}
	}
	return newCodes(numbers, names)
}

// mixRows numbers the patterns and cells of all delivered dentures.
func (q *asker) mixRows(ctx context.Context, kind string) (*mixData, error) {
	all, err := q.dentures(ctx)
	if err != nil {
		return nil, err
	}
	d := &mixData{d: all}
	err = atOnce(ctx, d.numberPatterns, func() error { return d.numberCells(kind) }, func() error {
		d.operator = d.operatorVaries()
		return nil
	})
	return d, err
}

// numberPatterns numbers the combinations of case mix.
func (d *mixData) numberPatterns() (err error) {
	terms := make([]*codes, len(mixTerms))
	for i, t := range mixTerms {
		terms[i] = d.d.codes[t].recorded()
	}
	var patterns coding
	if d.pattern, patterns, err = combine(d.d.n, terms); err != nil {
		return err
	}
	for _, of := range patterns.of {
		row := make([]string, len(of))
		for k, v := range of {
			row[k] = patterns.names[k][v]
		}
		d.levels = append(d.levels, row)
	}
	return nil
}

// numberCells numbers the combinations of units and periods.
func (d *mixData) numberCells(kind string) (err error) {
	d.units = []*codes{d.d.codes["site"], d.d.codes["clinician"], d.d.codes["lab"].recorded()}
	var cells coding
	if d.cell, cells, err = combine(d.d.n, append(slices.Clone(d.units), d.d.periods(kind))); err == nil {
		d.placeCells(cells)
	}
	return err
}

// placeCells numbers the sites and periods of the cells.
func (d *mixData) placeCells(cells coding) {
	sites := d.units[0].levels
	for _, of := range cells.of {
		c := mixPlace{[3]int(of[:3]), -1, cells.names[3][of[3]]}
		if c.period != "" {
			d.places = append(d.places, mixPeriod{sites[c.unit[0]], c.period})
		}
		d.cells = append(d.cells, c)
	}
	byOrder := func(a, b mixPeriod) int {
		return cmp.Or(cmp.Compare(a.site, b.site), cmp.Compare(a.period, b.period))
	}
	slices.SortFunc(d.places, byOrder)
	d.places = slices.Compact(d.places)
	for i, c := range d.cells {
		if c.period != "" {
			d.cells[i].place, _ = slices.BinarySearchFunc(d.places, mixPeriod{sites[c.unit[0]], c.period}, byOrder)
		}
	}
}

// operatorVaries says whether the operator says something of the case, or only of the
// clinician: whether more than half the dentures are of clinicians recorded with two or
// more kinds of operator.
func (d *mixData) operatorVaries() bool {
	who, kinds := d.d.codes["clinician"], d.d.codes["operator"]
	unknown := slices.Index(kinds.levels, "unknown")
	n := make([][]int, len(who.levels)+1) // dentures by clinician and kind
	for c := range n {
		n[c] = make([]int, len(kinds.levels)+1)
	}
	for i := range d.d.n {
		n[who.at(i)][kinds.at(i)]++
	}
	varied := 0
	for c := range n {
		all, seen := 0, 0
		for k, dentures := range n[c] {
			all += dentures
			if dentures > 0 && k != len(kinds.levels) && k != unknown {
				seen++
			}
		}
		if seen > 1 {
			varied += all
		}
	}
	return 2*varied > d.d.n
}

// count counts the dentures of every pattern and fold by their events, in the order of
// pattern, fold, whole follow-up behind the other, and events. A patient number ends in a
// digit drawn from the key, so that with five folds a patient stays in one fold as loads
// come in.
func (d *mixData) count(o *denturesOutcome) []mixCell {
	by := make([][]mixCell, len(d.levels)*mixFolds*2) // each holds a few numbers of events
	for p, no := range d.d.numbers {
		fold := int(no % mixFolds)
		for i := d.d.patients[p]; i < d.d.patients[p+1]; i++ {
			share, y, at := o.shareOf(int(i)), o.events(int(i)), 2*(int(d.pattern[i])*mixFolds+fold)
			if share == 0 {
				continue
			}
			whole := share >= 1_000_000_000 || o.Once && y > 0
			if whole {
				at++
			}
			k := slices.IndexFunc(by[at], func(c mixCell) bool { return c.y == y })
			if k < 0 {
				k, by[at] = len(by[at]), append(by[at], mixCell{pattern: int(d.pattern[i]), fold: fold, whole: whole, y: y})
			}
			c := &by[at][k]
			c.n, c.share = c.n+1, c.share+share
		}
	}
	for _, cells := range by {
		slices.SortFunc(cells, func(a, b mixCell) int { return cmp.Compare(a.y, b.y) })
	}
	return slices.Concat(by...)
}

// mixSum is what was observed and expected: expected events and share in billionths.
type mixSum struct{ n, due, y, e, share int64 }

func (s *mixSum) add(o mixSum) {
	s.n, s.due, s.y, s.e, s.share = s.n+o.n, s.due+o.due, s.y+o.y, s.e+o.e, s.share+o.share
}

// mixExpected is what the case mix of every denture lets expect at its follow-up.
type mixExpected struct {
	*mixData
	outcome *denturesOutcome
	e       []int64  // by denture, in billionths
	sums    []mixSum // by cell
}

// expect works out expected events by rates in the whole window by pattern, in billionths.
func (d *mixData) expect(o *denturesOutcome, rates []int64) *mixExpected {
	m := &mixExpected{mixData: d, outcome: o, e: make([]int64, d.d.n), sums: make([]mixSum, len(d.cells))}
	const one = 1_000_000_000
	for i := range m.e {
		share, rate := o.shareOf(i), rates[d.pattern[i]]
		s := mixSum{n: 1}
		if share > 0 {
			// Share times rate over a billion, to the nearest whole number, is worked out for whole
			// events and for the rest, so that 64 bits hold it.
			m.e[i] = share*(rate/one) + (share*(rate%one)+one/2)/one
			s = mixSum{1, 1, o.events(i), m.e[i], share}
		}
		m.sums[d.cell[i]].add(s)
	}
	return m
}

// dispersion is the variance of patients' events over their mean, about their
// expectation: the factor by which chance is wider than a Poisson law's. Differences
// between units are in it, which errs on the wide side.
func (m *mixExpected) dispersion() float64 {
	var patients, expected int64
	var squares wideSum
	for p := range len(m.d.patients) - 1 {
		var y, e int64
		any := false
		for i := m.d.patients[p]; i < m.d.patients[p+1]; i++ {
			if m.outcome.shareOf(int(i)) > 0 {
				y, e, any = y+m.outcome.events(int(i)), e+m.e[i], true
			}
		}
		if any {
			patients, expected = patients+1, expected+e
			r := 1_000_000*y - e/1000
			squares.add(r, r)
		}
	}
	if expected == 0 || patients < 2 {
		return 1
	}
	g := float64(patients)
	return squares.value() / 1e12 / (float64(expected) / 1e9) * g / (g - 1)
}

// unitSums sums every site, clinician and laboratory, in the order of their codes.
func (m *mixExpected) unitSums() map[string][]unitSum {
	out := map[string][]unitSum{}
	for k, dimension := range unitDimensions {
		of := m.units[k]
		sums := make([]mixSum, len(of.levels)+1)
		for cell, s := range m.sums {
			sums[m.cells[cell].unit[k]].add(s)
		}
		patients := m.patientsOf(of)
		for at, name := range of.levels {
			if s := sums[at]; s.due > 0 {
				out[dimension] = append(out[dimension], unitSum{name, s.due, patients[at], s.y, float64(s.e) / 1e9})
			}
		}
	}
	return out
}

// patientsOf counts the patients of every level of a column of whom anything was due.
func (m *mixExpected) patientsOf(of *codes) []int64 {
	out := make([]int64, len(of.levels)+1)
	var seen []int
	for p := range len(m.d.patients) - 1 {
		seen = seen[:0]
		for i := int(m.d.patients[p]); i < int(m.d.patients[p+1]); i++ {
			if k := of.at(i); m.outcome.shareOf(i) > 0 && !slices.Contains(seen, k) {
				seen = append(seen, k)
				out[k]++
			}
		}
	}
	return out
}
