package stats

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
)

// TestCrossWeightedByTheDefinition sums the products one by one, at every remainder of
// rows and with weights of zero among them.
func TestCrossWeightedByTheDefinition(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for n := range 12 {
		for m := 1; m < 6; m++ {
			q, v := make([]float64, n*m), make([]float64, n)
			for i := range q {
				q[i] = r.NormFloat64()
			}
			for i := range v {
				v[i] = float64(r.IntN(3))
			}
			got := crossWeighted(q, v, m)
			for j := range m {
				for k := range m {
					want := 0.0
					for i := range n {
						want += v[i] * q[i*m+j] * q[i*m+k]
					}
					assert.InDelta(t, want, got.At(j, k), 1e-12, "%d rows, %d columns, %d and %d", n, m, j, k)
				}
			}
		}
	}
}
