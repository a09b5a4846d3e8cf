package intake

import (
	"bytes"
	"hash/maphash"
	"maps"
	"slices"

	"afterfit/internal/privacy"
)

// spans gathers a column's distinct values by shape, as screenColumn does in SQL.
type spans struct {
	seen  *index   // distinct values, where no key of the table tells them
	rows  []uint32 // with each of them
	by    map[string]*shapeSpan
	last  *shapeSpan
	shape []byte
}

// shapeSpan is the values of one shape.
type shapeSpan struct {
	shape          string
	distinct, rows int64
	low, high      []byte
}

func newSpans(seed maphash.Seed) *spans {
	return &spans{seen: newIndex(seed), by: map[string]*shapeSpan{}}
}

// add takes a cell. Where the column is a key, the index of keys knows whether the
// value is new.
func (s *spans) add(cell []byte, isKey, newKey bool) { s.addRows(cell, 1, isKey, newKey) }

// addRows takes a cell that stands in so many rows.
func (s *spans) addRows(cell []byte, rows int64, isKey, newKey bool) {
	s.shape = privacy.AppendShape(s.shape[:0], cell)
	p := s.last
	if p == nil || string(s.shape) != p.shape {
		if p = s.by[string(s.shape)]; p == nil {
			p = &shapeSpan{shape: string(s.shape)}
			s.by[p.shape] = p
		}
		s.last = p
	}
	p.rows += rows
	if !isKey {
		var n uint32
		if n, newKey = s.seen.add(cell); newKey {
			s.rows = append(s.rows, 0)
		}
		s.rows[n] += uint32(rows) //nolint:gosec // no table has 4 thousand million rows
	}
	if !newKey {
		return
	}
	if p.distinct++; p.distinct == 1 || bytes.Compare(cell, p.low) < 0 {
		p.low = append(p.low[:0], cell...)
	}
	if p.distinct == 1 || bytes.Compare(cell, p.high) > 0 {
		p.high = append(p.high[:0], cell...)
	}
}

// list gives the shapes in the order of their text.
func (s *spans) list() []privacy.Span {
	out := []privacy.Span{}
	for _, shape := range slices.Sorted(maps.Keys(s.by)) {
		p := s.by[shape]
		out = append(out, privacy.Span{Shape: p.shape, Distinct: p.distinct, Rows: p.rows, Min: string(p.low), Max: string(p.high)})
	}
	return out
}

// values gives the values of some shapes with their rows; ok is false for a column of
// keys, whose values are not gathered here.
func (s *spans) values(shapes []string) (list []privacy.Value, ok bool) {
	if s.seen.len() == 0 {
		return nil, false
	}
	asked := make(map[string]bool, len(shapes))
	for _, s := range shapes {
		asked[s] = true
	}
	var shape []byte
	for c := s.seen.walk(); c.next(); {
		if shape = privacy.AppendShape(shape[:0], c.key); asked[string(shape)] {
			list = append(list, privacy.Value{Text: string(c.key), Rows: int64(s.rows[c.n])})
		}
	}
	return list, true
}
