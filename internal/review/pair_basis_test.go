package review

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestCombinationsGiveBackTheirLevels: of columns with few levels and with more than a byte
// holds, with as many possible combinations as a table takes and with more. Numbers are those
// that occur, in the order of the levels.
func TestCombinationsGiveBackTheirLevels(t *testing.T) {
	const n = 2_000
	r := rand.New(rand.NewPCG(8, 8))
	column := func(levels int) *codes {
		numbers, names := make([]uint32, n), make([]string, levels)
		for i := range names {
			names[i] = fmt.Sprintf("%05d", i)
		}
		for i := range numbers {
			numbers[i] = uint32(r.IntN(levels + 1)) // 0 is not recorded
		}
		return newCodes(numbers, names)
	}
	for _, sizes := range [][]int{{3}, {3, 4, 5}, {1_900, 4}, {4, 1_900}, {1_900, 1_900, 1_900, 1_900}, {200, 200, 200, 3}} {
		var parts []*codes
		for _, levels := range sizes {
			parts = append(parts, column(levels))
		}
		of, c, err := combine(n, parts)
		require.NoError(t, err)
		assert.True(t, slices.IsSortedFunc(c.of, slices.Compare[[]int]))
		seen := make([]bool, len(c.of))
		for i, no := range of {
			seen[no] = true
			for k, p := range parts {
				require.Equal(t, p.at(i), c.of[no][k], "%v: row %d, column %d", sizes, i, k)
			}
		}
		assert.NotContains(t, seen, false, "%v: a combination that does not occur", sizes)
	}
}
