package stats

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// halvedLimit is the search written out: a top score times 1.5 until it is enough, and
// then halves to a millionth.
func halvedLimit(t *testing.T, law ScoreLaw, want float64) (limit, achieved float64, asked int) {
	t.Helper()
	length := func(h float64) float64 {
		asked++
		l, err := chainLength(law, h, chainCells)
		require.NoError(t, err)
		return l
	}
	lo, hi := 0.0, law.score[len(law.score)-1]
	for achieved = length(hi); achieved < want; achieved = length(hi) {
		lo, hi = hi, hi*1.5
	}
	for hi-lo > 1e-6*hi {
		mid := lo + (hi-lo)/2
		if l := length(mid); l >= want {
			hi, achieved = mid, l
		} else {
			lo = mid
		}
	}
	return hi, achieved, asked
}

// The search must end at the very limit that plain halving ends at, where run lengths grow
// smoothly and where they jump, whatever is known beforehand, and ask for fewer of them.
func TestLimitSearchIsPlainHalving(t *testing.T) {
	for name, c := range map[string]struct {
		levels []float64
		phi    float64
		jumps  bool
	}{
		"few events":            {[]float64{0.4, 0.6}, 1, false},
		"some":                  {[]float64{4, 5, 7, 9}, 1.3, false},
		"so many that it jumps": {[]float64{210, 225, 240, 260}, 1.7, true},
	} {
		var mix []CaseMix
		for _, l := range c.levels {
			mix = append(mix, CaseMix{l, 1})
		}
		law, err := ScatteredScoreLaw(mix, 1.5, 1, c.phi)
		require.NoError(t, err)
		for _, want := range []float64{360, 2000} {
			limit, achieved, halvings := halvedLimit(t, law, want)
			asked := 0
			length := func(h float64) (float64, error) { asked++; return chainLength(law, h, chainCells) }
			s := limitSearch{want: want, length: length, high: math.Inf(1), jumps: law.score}
			got, reached, err := s.smallest(law.score[len(law.score)-1])
			require.NoError(t, err)
			assert.Equal(t, limit, got, "%s, run length %g", name, want)
			assert.Equal(t, achieved, reached, "%s, run length %g", name, want)
			assert.Less(t, asked, halvings+8, "%s, run length %g: the search asks for %d run lengths, halving for %d", name, want, asked, halvings)
			if c.jumps {
				assert.Less(t, 4*asked, 3*halvings, "%s, run length %g: the search asks for %d run lengths, halving for %d", name, want, asked, halvings)
			}

			whole, _, err := CusumLimit(law, want)
			require.NoError(t, err)
			within, _, err := CusumLimitBetween(law, want, limit*0.99, limit*1.01)
			require.NoError(t, err)
			assert.Equal(t, whole, within, "%s, run length %g", name, want)
		}
	}
}

func TestLimitBetweenHostile(t *testing.T) {
	law, err := PoissonScoreLaw([]CaseMix{{2, 1}}, 1.5, 1)
	require.NoError(t, err)
	for _, b := range [][2]float64{{-1, 2}, {2, 2}, {3, 2}, {math.NaN(), 2}, {0, math.NaN()}} {
		_, _, err := CusumLimitBetween(law, 100, b[0], b[1])
		require.ErrorIs(t, err, ErrBadInput, "%v", b)
	}
	// What is said to be enough and is not leaves nothing to find.
	_, _, err = CusumLimitBetween(law, 1e6, 0, 0.5)
	require.ErrorIs(t, err, ErrNoConvergence)
}
