package review

import "slices"

// codes are the levels of a column, and each denture's place in them: len(levels) where
// none is recorded.
type codes struct {
	levels []string
	smallNumbers
}

// newCodes makes a column of codes from numbers, which count from 1 (0: not recorded) in
// names, and takes them over. Its levels are those that occur, in the order of their names.
func newCodes(numbers []uint32, names []string) *codes {
	seen := make([]bool, len(names)+1)
	for _, v := range numbers {
		seen[v] = true
	}
	c := &codes{}
	for i, name := range names {
		if seen[i+1] {
			c.levels = append(c.levels, name)
		}
	}
	slices.Sort(c.levels)
	c.levels = slices.Compact(c.levels) // several numbers may stand for one name
	to := make([]uint32, len(names)+1)
	to[0] = uint32(len(c.levels))
	for i, name := range names {
		if seen[i+1] {
			k, _ := slices.BinarySearch(c.levels, name)
			to[i+1] = uint32(k)
		}
	}
	for i, v := range numbers {
		numbers[i] = to[v]
	}
	c.smallNumbers = newSmallNumbers(numbers)
	return c
}

// renamed makes a column whose levels are what this one's become; several may become one.
func (c *codes) renamed(to func(level string) string) *codes {
	names, numbers := make([]string, len(c.levels)), make([]uint32, c.size())
	for i, l := range c.levels {
		names[i] = to(l)
	}
	for i := range numbers {
		if v := c.at(i); v < len(names) {
			numbers[i] = uint32(v + 1)
		}
	}
	return newCodes(numbers, names)
}

// recorded makes what is not recorded a level of its own.
func (c *codes) recorded() *codes {
	none, numbers := len(c.levels), make([]uint32, c.size())
	names := append(slices.Clone(c.levels), notRecorded)
	if at := slices.Index(c.levels, notRecorded); at >= 0 {
		none, names = at, c.levels
	}
	for i := range numbers {
		if v := c.at(i); v < len(c.levels) {
			numbers[i] = uint32(v + 1)
		} else {
			numbers[i] = uint32(none + 1)
		}
	}
	return newCodes(numbers, names)
}

// and makes a column of this one's and another's levels, joined by a bar. Without either
// there is none.
func (c *codes) and(o *codes) *codes {
	at := make([][]uint32, len(c.levels)) // numbers of the names, 0 for none yet
	numbers := make([]uint32, c.size())
	var names []string
	for i := range numbers {
		a, b := c.at(i), o.at(i)
		if a == len(c.levels) || b == len(o.levels) {
			continue
		}
		if at[a] == nil {
			at[a] = make([]uint32, len(o.levels))
		}
		if at[a][b] == 0 {
			names = append(names, c.levels[a]+"|"+o.levels[b])
			at[a][b] = uint32(len(names))
		}
		numbers[i] = at[a][b]
	}
	return newCodes(numbers, names)
}
