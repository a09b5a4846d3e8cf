package review

import (
	"context"
	"database/sql"

	"afterfit/internal/stats"
)

// unit is how a denture left: the day, and the kind (0 outcome, 1 death, 2 left).
type unit struct {
	day  int64
	kind int
}

// unitPair counts pairs of dentures of one patient by how they left.
type unitPair struct {
	codeA, codeB string
	a, b         unit
	n            int64
}

// pairs reads the pairs within each dimension from first_units, by the query named.
func (q *asker) pairs(ctx context.Context, query string) (map[string][]unitPair, error) {
	out := map[string][]unitPair{}
	err := q.each(ctx, query, func(rows *sql.Rows) error {
		var dimension string
		var p unitPair
		err := rows.Scan(&dimension, &p.codeA, &p.a.day, &p.a.kind, &p.codeB, &p.b.day, &p.b.kind, &p.n)
		out[dimension] = append(out[dimension], p)
		return err
	})
	return out, err
}

// patients reads how many patients stand behind each group of first_units; code
// "" is the whole dimension.
func (q *asker) patients(ctx context.Context) (map[groupKey]int64, error) {
	out := map[groupKey]int64{}
	err := q.each(ctx, "first_patients", func(rows *sql.Rows) error {
		var k groupKey
		var n int64
		err := rows.Scan(&k.dimension, &k.code, &n)
		out[k] = n
		return err
	})
	return out, err
}

// weighted is a group's influences with the weight that the group has in a sum of
// groups: 1 for a group by itself, plus or minus an arch's share in a contrast.
type weighted struct {
	weight    float64
	influence *stats.Influence
	counts    *firstCounts
}

// pullOf is what one denture adds to the sum.
func (w weighted) pullOf(u unit) float64 { return w.weight * w.influence.Of(float64(u.day), u.kind) }

// ownSquares is the sum of squared pulls with every denture by itself.
func (w weighted) ownSquares() float64 {
	var sum float64
	for _, r := range w.counts.rows {
		for kind, n := range []int64{r.Events[0], r.Events[1], r.Censored} {
			if n > 0 {
				v := w.pullOf(unit{int64(r.Time), kind})
				sum += float64(n) * v * v
			}
		}
	}
	return sum
}

// clusterVariance is the variance of a weighted sum of incidences, robust for
// patients with several dentures: the squares of the patients' summed pulls are
// the dentures' own squares plus twice the products of each patient's pairs.
// codes fixes the order of the sum. Fewer than two patients give the dentures'
// own squares alone.
func clusterVariance(codes []string, groups map[string]weighted, pairs []unitPair, patients int64) (float64, error) {
	var sum float64
	for _, code := range codes {
		sum += groups[code].ownSquares()
	}
	// Pairs of the same groups stand together, so that a group is seldom looked up.
	var a, b weighted
	okA, okB := false, false
	for i, p := range pairs {
		if i == 0 || p.codeA != pairs[i-1].codeA {
			a, okA = groups[p.codeA]
		}
		if i == 0 || p.codeB != pairs[i-1].codeB {
			b, okB = groups[p.codeB]
		}
		if okA && okB {
			sum += 2 * float64(p.n) * a.pullOf(p.a) * b.pullOf(p.b)
		}
	}
	return robustVariance(sum, patients)
}

// robustVariance makes a variance of a sum of squared pulls of patients. Fewer than two
// leave it as it is.
func robustVariance(sum float64, patients int64) (float64, error) {
	if patients < 2 {
		return sum, nil
	}
	// Rounding can leave a sum of squares that cancel out just below nothing.
	v, err := stats.RobustFromSquares(max(sum, 0), patients)
	return v.Variance, err
}

// influences are those of a group on its incidence at the end of the window.
func (g *firstCounts) influences(days int, weight float64) (weighted, error) {
	f, err := stats.IncidenceInfluence(g.rows, 0, float64(days))
	return weighted{weight, f, g}, err
}
