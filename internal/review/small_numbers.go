package review

import (
	"math"
	"slices"
)

// smallNumbers are a number of 0 or more for every denture, in a byte each where none is
// larger than a byte holds.
type smallNumbers struct {
	narrow []uint8 // in place of wide
	wide   []uint32
}

// newSmallNumbers takes the numbers over.
func newSmallNumbers(of []uint32) smallNumbers {
	if len(of) > 0 && slices.Max(of) > math.MaxUint8 {
		return smallNumbers{wide: of}
	}
	narrow := make([]uint8, len(of))
	for i, n := range of {
		narrow[i] = uint8(n)
	}
	return smallNumbers{narrow: narrow}
}

func (s *smallNumbers) at(i int) int {
	if s.narrow != nil {
		return int(s.narrow[i])
	}
	return int(s.wide[i])
}

// size is how many numbers there are.
func (s *smallNumbers) size() int { return max(len(s.narrow), len(s.wide)) }
