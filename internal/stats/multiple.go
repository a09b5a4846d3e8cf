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
	order, err := orderOfP(p)
	if err != nil {
		return nil, err
	}
	q := make([]float64, len(p))
	least := 1.0
	for rank := len(p); rank > 0; rank-- {
		i := order[rank-1]
		least = min(least, p[i]*(float64(len(p))/float64(rank)))
		q[i] = least
	}
	return q, nil
}

// Holm returns P values adjusted for a family so that calling those at or below alpha
// keeps the chance of any false call at alpha, whatever the dependence. P values are
// in [0,1]; the result stands in the order of p. An empty family gives an empty
// result. Reference: Holm 1979, Scand J Stat 6:65.
func Holm(p []float64) ([]float64, error) {
	order, err := orderOfP(p)
	if err != nil {
		return nil, err
	}
	adjusted := make([]float64, len(p))
	most := 0.0
	for rank, i := range order {
		most = max(most, min(1, p[i]*float64(len(p)-rank)))
		adjusted[i] = most
	}
	return adjusted, nil
}

// orderOfP returns the places of P values from the smallest up.
func orderOfP(p []float64) ([]int, error) {
	order := make([]int, len(p))
	for i, v := range p {
		if err := checkProbability(fmt.Sprintf("P value %d", i), v); err != nil {
			return nil, err
		}
		order[i] = i
	}
	sort.SliceStable(order, func(a, b int) bool { return p[order[a]] < p[order[b]] })
	return order, nil
}
