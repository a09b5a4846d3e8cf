package review

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
)

// pairBasis is what the comparisons rest on: the dentures, each with a place.
type pairBasis struct {
	d          *dentures
	clinicians int
	place      []int32 // by denture: number of clinician and arch, the upper one odd
}

// newPairBasis numbers the dentures by clinician and arch. Clinicians says for how many
// there must be room at the least.
func newPairBasis(d *dentures, clinicians int) *pairBasis {
	who := d.codes["clinician"]
	b := &pairBasis{d: d, clinicians: max(1, clinicians, len(who.levels)), place: make([]int32, d.n)}
	for i := range b.place {
		b.place[i] = int32(2 * who.at(i))
		if d.upper(i) {
			b.place[i]++
		}
	}
	return b
}

func (b *pairBasis) places() int { return 2 * b.clinicians }

// mixSet is a set of columns of case mix that some comparisons adjust for. Its numbers
// are made when the first of them asks, and let go with the last.
type mixSet struct {
	columns []string
	left    atomic.Int32 // comparisons that still need the numbers
	once    sync.Once
	err     error
	of      []int32 // by denture: twice the number of its combination of levels, and 1 more in the upper arch
	coding  coding  // the levels of each combination
}

// orArch are the columns to adjust for; nothing to adjust for leaves the arch, which every
// comparison keeps apart anyway.
func orArch(columns []string) []string {
	if len(columns) == 0 {
		return []string{"arch"}
	}
	return columns
}

// adjusting is a comparison that adjusts for columns of case mix.
type adjusting interface {
	adjusts() (columns []string, into **mixSet)
}

// shareSets gives comparisons that adjust for the same columns one set, and returns them
// with those of one set in a row, so that few sets are held at once.
func shareSets[T adjusting](fits []T) []T {
	var sets []*mixSet
	by := map[*mixSet][]T{}
	for _, f := range fits {
		columns, into := f.adjusts()
		i := slices.IndexFunc(sets, func(s *mixSet) bool { return slices.Equal(s.columns, columns) })
		if i < 0 {
			i, sets = len(sets), append(sets, &mixSet{columns: columns})
		}
		*into = sets[i]
		sets[i].left.Add(1)
		by[sets[i]] = append(by[sets[i]], f)
	}
	var out []T
	for _, s := range sets {
		out = append(out, by[s]...)
	}
	return out
}

// number numbers the combinations of levels that occur.
func (s *mixSet) number(b *pairBasis) error {
	s.once.Do(func() { s.of, s.coding, s.err = b.combine(s.columns) })
	return s.err
}

// done says that one comparison has ended.
func (s *mixSet) done() {
	if s.left.Add(-1) == 0 {
		s.of = nil
	}
}

// tabled is up to how many possible combinations are looked up in a table of all of them.
const tabled = 1 << 22

// combine numbers the combinations of the columns' levels that occur, and the arch.
func (b *pairBasis) combine(columns []string) ([]int32, coding, error) {
	parts := make([]*codes, len(columns))
	for k, name := range columns {
		parts[k] = b.d.column(name)
	}
	of, c, err := combine(b.d.n, parts)
	if err != nil {
		return nil, c, fmt.Errorf("case mix of %s %w", strings.Join(columns, ", "), err)
	}
	for i := range of {
		of[i] = 2*of[i] + b.place[i]&1
	}
	return of, c, nil
}

// combine numbers the combinations of the columns' levels that occur, from 0, in the
// order of the levels like the digits of a number; what is not recorded is a level of its
// own and comes last.
func combine(n int, parts []*codes) ([]int32, coding, error) {
	size := int64(1)
	sizes := make([]int64, len(parts))
	for k, p := range parts {
		sizes[k] = int64(len(p.levels) + 1)
		if size > math.MaxInt64/sizes[k] {
			return nil, coding{}, errors.New("has more combinations of levels than can be numbered")
		}
		size *= sizes[k]
	}
	of, distinct := make([]int32, n), []int64(nil)
	if size <= tabled { // the keys fit where their numbers come
		distinct = numberKeys(of, of, size, parts, sizes)
	} else {
		distinct = numberKeys(of, make([]int64, n), size, parts, sizes)
	}
	return of, codingOf(distinct, parts, sizes), nil
}

// numberKeys makes keys below size of the levels, like numbers of their digits, and puts the
// place of each among the distinct ones into of, which may be the keys' own column.
func numberKeys[K int32 | int64](of []int32, keys []K, size int64, parts []*codes, sizes []int64) (distinct []int64) {
	for k, p := range parts {
		addDigit(keys, K(sizes[k]), p.wide)
		addDigit(keys, K(sizes[k]), p.narrow)
	}
	distinct, place := rank(keys, size)
	for i, key := range keys {
		of[i] = place(key)
	}
	return distinct
}

// addDigit makes levels below size the last digit of the keys. The column that does not hold
// the codes has none, and leaves them.
func addDigit[K int32 | int64, V uint8 | uint32](keys []K, size K, levels []V) {
	for i, v := range levels {
		keys[i] = keys[i]*size + K(v)
	}
}

// rank gives the distinct keys below size in order, and the place of each.
func rank[K int32 | int64](keys []K, size int64) (distinct []int64, place func(K) int32) {
	if size <= tabled {
		table := make([]int32, size)
		for _, k := range keys {
			table[k] = 1
		}
		for k, seen := range table {
			if seen == 1 {
				table[k] = int32(len(distinct))
				distinct = append(distinct, int64(k))
			}
		}
		return distinct, func(k K) int32 { return table[k] }
	}
	table := map[K]int32{}
	for _, k := range keys {
		table[k] = 0
	}
	for k := range table {
		distinct = append(distinct, int64(k))
	}
	slices.Sort(distinct)
	for i, k := range distinct {
		table[K(k)] = int32(i)
	}
	return distinct, func(k K) int32 { return table[k] }
}

// codingOf names the levels of the combinations with these keys.
func codingOf(keys []int64, parts []*codes, sizes []int64) coding {
	c := coding{names: make([][]string, len(parts)), of: make([][]int, len(keys))}
	for k, p := range parts {
		c.names[k] = append(slices.Clone(p.levels), "") // "" is a level of its own: not recorded
	}
	for i, key := range keys {
		c.of[i] = make([]int, len(parts))
		for k := len(parts) - 1; k >= 0; k-- {
			c.of[i][k], key = int(key%sizes[k]), key/sizes[k]
		}
	}
	return c
}

// column is a column of codes, or a habit with the levels false and true.
func (d *dentures) column(name string) *codes {
	if c, ok := d.codes[name]; ok {
		return c
	}
	h, ok := d.habits[name]
	if !ok {
		panic("review: dentures are not coded by " + name)
	}
	numbers := make([]uint32, len(h))
	for i, v := range h {
		numbers[i] = uint32(sideOf(v)+1) % 3 // 0 where it cannot be assessed
	}
	return newCodes(numbers, []string{"false", "true"})
}

// coding numbers the levels of every column of the mixes.
type coding struct {
	names [][]string // by column
	of    [][]int    // by mix and column
}
