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
	keys  *index   // of a column that is a key, whose values the checks must see
	seen  *index   // distinct values of any other
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

func (p *shapeSpan) span() privacy.Span {
	return privacy.Span{Shape: p.shape, Distinct: p.distinct, Rows: p.rows, Min: string(p.low), Max: string(p.high)}
}

// list gives the shapes in the order of their text.
func (s *spans) list() []privacy.Span {
	out := []privacy.Span{}
	for _, shape := range slices.Sorted(maps.Keys(s.by)) {
		out = append(out, s.by[shape].span())
	}
	return out
}

// keep holds on to the keys of a table where the checks must see some of them.
func (s *spans) keep(keys *index) {
	for _, p := range s.by {
		if len(privacy.Suspects(privacy.Column{InContract: true, Spans: []privacy.Span{p.span()}})) > 0 {
			s.keys = keys
			return
		}
	}
}

// values gives the values of some shapes with their rows; ok is false for keys of which
// some stand in more rows than one.
func (s *spans) values(shapes []string) (list []privacy.Value, ok bool) {
	asked := make(map[string]bool, len(shapes))
	for _, shape := range shapes {
		asked[shape] = true
		if p := s.by[shape]; s.keys != nil && p.rows > p.distinct {
			return nil, false
		}
	}
	from, rows := s.seen, func(n int) int64 { return int64(s.rows[n]) }
	if s.keys != nil {
		from, rows = s.keys, func(int) int64 { return 1 }
	}
	var shape []byte
	for c := from.walk(); c.next(); {
		if shape = privacy.AppendShape(shape[:0], c.key); asked[string(shape)] {
			list = append(list, privacy.Value{Text: string(c.key), Rows: rows(c.n)})
		}
	}
	return list, true
}
