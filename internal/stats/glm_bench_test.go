package stats

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
)

// benchmarkRows draws rows of 20 columns (an intercept and four factors of 8, 6, 5
// and 4 levels: 960 cells) with overdispersed counts, collapsed to patterns.
func benchmarkRows(rows int) Patterns {
	rng := rand.New(rand.NewPCG(1, uint64(rows)))
	levels := []int{8, 6, 5, 4}
	d, index := Patterns{Names: make([]string, 20)}, map[[5]int]int{}
	for range rows {
		var key [5]int
		x, eta := make([]float64, 20), -0.3
		x[0] = 1
		for k, at := 0, 1; k < len(levels); k++ {
			key[k] = rng.IntN(levels[k])
			eta += 0.05 * float64(key[k])
			if key[k] > 0 {
				x[at+key[k]-1] = 1
			}
			at += levels[k] - 1
		}
		key[4] = poissonGamma(rng, math.Exp(eta))
		i, ok := index[key]
		if !ok {
			i = len(d.Y)
			index[key] = i
			d.X, d.Y, d.Weight = append(d.X, x...), append(d.Y, float64(key[4])), append(d.Weight, 0)
		}
		d.Weight[i]++
	}
	return d
}

// poissonGamma draws a count with theta = 2, as a Poisson count with a gamma mean.
func poissonGamma(rng *rand.Rand, mean float64) int {
	left, n := mean*(rng.ExpFloat64()+rng.ExpFloat64())/2, -1
	for left >= 0 {
		left -= rng.ExpFloat64()
		n++
	}
	return n
}

// The rows are collapsed outside the timed part, as SQL does in use: what is timed is
// the fit on the patterns, whose number is reported.
func BenchmarkNegativeBinomialRows(b *testing.B) {
	for _, rows := range []int{1e4, 1e5, 1e6} {
		d := benchmarkRows(rows)
		b.Run(fmt.Sprint(rows), func(b *testing.B) {
			for b.Loop() {
				if _, err := FitGLM(NegativeBinomial, d); err != nil {
					b.Fatal(err)
				}
			}
			b.ReportMetric(float64(len(d.Y)), "patterns")
		})
	}
}

// CR2 with Satterthwaite's degrees for one coefficient on 20,000 persons of two rows.
func BenchmarkClusterCR2(b *testing.B) {
	rng := rand.New(rand.NewPCG(2, 2))
	d := benchmarkRows(5000)
	clear(d.Weight)
	var clusters []Composition
	for range 20000 {
		i, j := rng.IntN(len(d.Y)), rng.IntN(len(d.Y)-1)
		if j >= i {
			j++
		}
		clusters = append(clusters, Composition{[]Member{{min(i, j), 1}, {max(i, j), 1}}, 1})
		d.Weight[i]++
		d.Weight[j]++
	}
	f, err := FitGLM(Poisson, d)
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		cov, err := f.ClusterCovariance(CR2, clusters)
		if err != nil {
			b.Fatal(err)
		}
		if _, err := f.Wald(1, cov, 0.95); err != nil {
			b.Fatal(err)
		}
	}
}
