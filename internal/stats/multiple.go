package stats

import (
	"fmt"
	"sort"
)

// BenjaminiHochberg returns the q-values of a family of P values: the smallest
// false discovery rate at which each would be called. P values are in [0,1]; the
// result stands in the order of p. An empty family gives an empty result.
// Reference: Benjamini & Hochberg 1995, J R Stat Soc B 57:289.
func BenjaminiHochberg(p []float64) ([]float64, error) {
	order := make([]int, len(p))
	for i, v := range p {
		if !(v >= 0 && v <= 1) {
			return nil, fmt.Errorf("value %d of P is %v: %w", i, v, ErrBadInput)
		}
		order[i] = i
	}
	sort.SliceStable(order, func(a, b int) bool { return p[order[a]] > p[order[b]] })
	q := make([]float64, len(p))
	least := 1.0
	for rank, i := range order {
		n := len(p) - rank
		if v := p[i] * float64(len(p)) / float64(n); v < least {
			least = v
		}
		q[i] = least
	}
	return q, nil
}
