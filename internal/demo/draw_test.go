package demo

import (
	"math/rand/v2"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestStreamIsPCG holds the generator's own stream to math/rand/v2.
func TestStreamIsPCG(t *testing.T) {
	for _, seed := range [][2]uint64{{0, 0}, {DefaultSeed, 1}, {1 << 63, ^uint64(0)}} {
		want, got := rand.NewPCG(seed[0], seed[1]), newDice()
		got.seed(seed[0], seed[1])
		for range 1000 {
			require.Equal(t, want.Uint64(), got.stream.Uint64())
		}
		require.Equal(t, rand.New(want).Float64(), got.Float64())
	}
}

// TestCellsAreWrittenAsNumbers holds the short ways of writing cells to strconv.
func TestCellsAreWrittenAsNumbers(t *testing.T) {
	s := &sheet{}
	written := func() string { b := string(s.buf); s.buf = s.buf[:0]; return b }
	for _, n := range []int{-12, -1, 0, 1, 9, 10, 11, 99, 100, 101, 999, 1000, 12345} {
		s.number(n)
		assert.Equal(t, strconv.Itoa(n)+",", written())
		s.length(tenths(n))
		assert.Equal(t, strconv.FormatFloat(float64(n)/10, 'f', 1, 64)+",", written())
	}
	s.number(missing)
	s.length(missing)
	s.id('C', 0)
	assert.Equal(t, ",,,", written())
	for n, want := range map[int]string{1: "C000000001,", 120034507: "C120034507,", 999999999: "C999999999,", 1000000000: "C1000000000,", 12345678901: "C12345678901,"} {
		s.id('C', n)
		assert.Equal(t, want, written())
	}
}
