package review

import (
	"math/big"
	"math/bits"
)

// wideSum is a sum of products of whole numbers, kept in 128 bits: it is exact, so the
// same in any order, below 1.7e38 either way.
type wideSum struct {
	high int64
	low  uint64
}

// add adds the product of a and b.
func (s *wideSum) add(a, b int64) {
	high, low := bits.Mul64(uint64(a), uint64(b))
	// A negative factor was taken for itself plus 2^64.
	high -= uint64(a>>63&b) + uint64(b>>63&a)
	var carry uint64
	s.low, carry = bits.Add64(s.low, low, 0)
	s.high += int64(high + carry)
}

// value is the sum as a number, to 53 bits.
func (s wideSum) value() float64 {
	if s.high < 0 {
		low, borrow := bits.Sub64(0, s.low, 0)
		return -(float64(uint64(-s.high)-borrow)*0x1p64 + float64(low))
	}
	return float64(s.high)*0x1p64 + float64(s.low)
}

func (s wideSum) exact() *big.Int {
	v := big.NewInt(s.high)
	return v.Lsh(v, 64).Add(v, new(big.Int).SetUint64(s.low))
}
