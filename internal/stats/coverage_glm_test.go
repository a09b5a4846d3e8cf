//go:build coverage

package stats

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
)

// clusteredCounts draws persons with one shared gamma effect of mean 1 and
// variance 1/shape, size rows each and an exposure of the whole person; rate ratio
// 1.5 on a mean of 1.
func clusteredCounts(rng *rand.Rand, persons, size int, shape int) (Patterns, []Composition) {
	frame := glmFrame{Names: []string{"one", "exposed"}}
	for p := range persons {
		effect := 0.0
		for range shape {
			effect += rng.ExpFloat64() / float64(shape)
		}
		x := float64(p % 2)
		for range size {
			frame.X = append(frame.X, []float64{1, x})
			frame.Y = append(frame.Y, float64(poissonDraw(rng, effect*(1+0.5*x))))
			frame.Cluster = append(frame.Cluster, float64(p))
		}
	}
	return collapse(frame)
}

func TestCoverageOfClusteredCounts(t *testing.T) {
	const runs = 1500
	rng := rand.New(rand.NewPCG(20, 26))
	for _, c := range []struct{ persons, size, shape int }{{300, 2, 1}, {40, 20, 4}, {10, 40, 4}} {
		coef, diff := 0, 0
		for range runs {
			d, clusters := clusteredCounts(rng, c.persons, c.size, c.shape)
			f, err := FitGLM(Poisson, d)
			require.NoError(t, err)
			cov, err := f.ClusterCovariance(CR2, clusters)
			require.NoError(t, err)
			e, err := f.Wald(1, cov, 0.95)
			require.NoError(t, err)
			one, zero := append([]float64{}, d.X...), append([]float64{}, d.X...)
			for i := range d.Y {
				one[2*i+1], zero[2*i+1] = 1, 0
			}
			s, err := f.Standardise(one, zero, cov, 0.95)
			require.NoError(t, err)
			coef += inside(e.Limits, math.Log(1.5))
			diff += inside(s.Difference.Limits, 0.5)
		}
		name := fmt.Sprintf("%d clusters of %d", c.persons, c.size)
		t.Logf("%s: coefficient %.3f, difference %.3f", name, float64(coef)/runs, float64(diff)/runs)
		if c.persons >= fewClusters {
			requireCoverage(t, name+" coefficient", coef, runs, 0.93, 0.97)
			requireCoverage(t, name+" difference", diff, runs, 0.93, 0.97)
		}
	}
}

func inside(i Interval, v float64) int {
	if i.Low <= v && v <= i.High {
		return 1
	}
	return 0
}

// With about 8 events the limits are conservative and must say so; with about 35
// they keep the band.
func TestCoverageOfFirth(t *testing.T) {
	share, warned := firthCoverage(t, 0.02, 0.06)
	t.Logf("8 events: %.3f, warned %.3f", share, warned)
	require.True(t, share >= 0.93 && share <= 0.985 && warned > 0.99)
	share, warned = firthCoverage(t, 0.1, 0.25)
	t.Logf("35 events: %.3f, warned %.3f", share, warned)
	require.True(t, share >= 0.93 && share <= 0.97 && warned < 0.05)
}

// firthCoverage is the share of limits that hold the truth, and of fits with a warning.
func firthCoverage(t *testing.T, p0, p1 float64) (share, warned float64) {
	const runs, n = 1000, 200
	rng := rand.New(rand.NewPCG(20, 27))
	hits := 0
	for range runs {
		events := [2]int{}
		for i := range n {
			if rng.Float64() < []float64{p0, p1}[i%2] {
				events[i%2]++
			}
		}
		d := Patterns{Names: []string{"one", "exposed"}, X: []float64{1, 0, 1, 0, 1, 1, 1, 1}, Y: []float64{0, 1, 0, 1}}
		for _, k := range events {
			d.Weight = append(d.Weight, float64(n/2-k), float64(k))
		}
		f, err := FitFirth(d)
		require.NoError(t, err)
		warned += float64(len(f.Warnings))
		limits, err := f.ProfileLimits(1, 0.95)
		require.NoError(t, err)
		hits += inside(limits, math.Log(p1/(1-p1))-math.Log(p0/(1-p0)))
	}
	return float64(hits) / runs, warned / runs
}
