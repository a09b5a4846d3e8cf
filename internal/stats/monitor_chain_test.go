package stats

import (
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"
)

// denseLength writes the walk out point by point and solves it as any linear system.
func denseLength(t *testing.T, law ScoreLaw, limit float64, cells int) float64 {
	t.Helper()
	n := cells + 1
	stay, ones := mat.NewDense(n, n, nil), mat.NewVecDense(n, nil)
	for i := range n {
		ones.SetVec(i, 1)
		stay.Set(i, i, 1)
		for j, s := range law.score {
			at := float64(i) + s/limit*float64(cells)
			if at >= float64(cells)*(1-cusumRounding) {
				break
			}
			cell := math.Floor(max(0, at))
			share := max(0, at) - cell
			k := int(cell)
			stay.Set(i, k, stay.At(i, k)-law.prob[j]*(1-share))
			stay.Set(i, k+1, stay.At(i, k+1)-law.prob[j]*share)
		}
	}
	l, err := solveLength(stay, ones)
	require.NoError(t, err)
	return l
}

// The walk by its diagonals must be the walk written out, down to rounding, wherever
// scores fall on points, between them, or beyond the edges.
func TestChainIsTheWalkWrittenOut(t *testing.T) {
	even := newScoreLaw(map[float64]float64{-1: 0.5, 0: 0.2, 1: 0.3})
	same := newScoreLaw(map[float64]float64{-0.1: 0.6, 1.2: 0.4})
	laws := map[string]ScoreLaw{"even": even, "same": same}
	for _, level := range []float64{0.3, 4, 60, 2500} {
		for _, phi := range []float64{1, 1.7, 6} {
			law, err := ScatteredScoreLaw([]CaseMix{{level, 1}, {2 * level / 3, 2}}, 1.5, 1, phi)
			require.NoError(t, err)
			laws[fmt.Sprintf("level %g, dispersion %g", level, phi)] = law
		}
	}
	finite := 0
	for name, law := range laws {
		for _, limit := range []float64{1e-9, 0.4, 1, 3, 7} {
			for _, cells := range []int{2, 3, 60} {
				want, got := denseLength(t, law, limit, cells), newChain(law, limit, cells).length()
				if math.IsInf(want, 1) {
					assert.Equal(t, want, reached(got), "%s, limit %g", name, limit)
					continue
				}
				finite++
				// The sum's own cancellation costs digits as runs get longer.
				assert.InEpsilon(t, want, got, 1e-7+1e-14*want, "%s, limit %g, %d cells", name, limit, cells)
			}
		}
	}
	assert.Greater(t, finite, 100)
}
