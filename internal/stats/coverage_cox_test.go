//go:build coverage

package stats

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
)

// clusteredTimes draws persons with a shared gamma frailty of mean 1 and variance
// 1/shape (none where shape is 0) and size rows each, watched for 30 days in whole
// days. One column belongs to the person, the other differs within the person.
// Frailty flattens the marginal log hazard ratio, so the frame also says what the
// coefficients tend to: see marginalTruth.
func clusteredTimes(rng *rand.Rand, persons, size, shape int, rate float64) coxFrame {
	c := coxFrame{Names: []string{"person", "row"}}
	for p := range persons {
		effect := 1.0
		if shape > 0 {
			effect = 0
			for range shape {
				effect += rng.ExpFloat64() / float64(shape)
			}
		}
		for r := range size {
			x, z := float64(p%2), float64(r%2)
			t := math.Ceil(rng.ExpFloat64() / (effect * rate * math.Exp(0.5*x-0.3*z)))
			c.X = append(c.X, []float64{x, z})
			c.Time = append(c.Time, math.Min(t, 30))
			event := 0.0
			if t <= 30 {
				event = 1
			}
			c.Event, c.Cluster = append(c.Event, event), append(c.Cluster, float64(p))
		}
	}
	return c
}

// marginalTruth is what the coefficients tend to, from one very large fit.
func marginalTruth(t *testing.T, rng *rand.Rand, size, shape int, rate float64) []float64 {
	p, rows, _ := clusteredTimes(rng, 200_000, size, shape, rate).collapse()
	f, err := FitCox(p, rows, CoxOptions{})
	require.NoError(t, err)
	return f.Coef
}

// Robust limits of a Cox model on clustered rows: 93-97 % from 40 clusters on; with
// 12 clusters they are at the lower edge of that, and carry a warning.
func TestCoverageOfClusteredCox(t *testing.T) {
	const runs = 1200
	rng := rand.New(rand.NewPCG(31, 7))
	for _, c := range []struct {
		persons, size, shape int
		rate                 float64
	}{{300, 2, 1, 0.01}, {120, 2, 2, 0.05}, {40, 10, 4, 0.02}, {12, 20, 4, 0.02}} {
		truth := marginalTruth(t, rng, c.size, c.shape, c.rate)
		robust, naive := [2]int{}, [2]int{}
		for range runs {
			p, rows, clusters := clusteredTimes(rng, c.persons, c.size, c.shape, c.rate).collapse()
			f, err := FitCox(p, rows, CoxOptions{})
			require.NoError(t, err)
			cov, err := f.ClusterCovariance(CR1, clusters)
			require.NoError(t, err)
			require.Equal(t, c.persons < fewClusters, len(cov.Warnings) == 1)
			for j := range truth {
				e, err := f.Wald(j, cov, 0.95)
				require.NoError(t, err)
				robust[j] += inside(e.Limits, truth[j])
				e, err = f.Wald(j, f.ModelCovariance(), 0.95)
				require.NoError(t, err)
				naive[j] += inside(e.Limits, truth[j])
			}
		}
		name := fmt.Sprintf("%d clusters of %d, variance 1/%d", c.persons, c.size, c.shape)
		share := func(k int) float64 { return float64(k) / runs }
		t.Logf("%s: robust %.3f %.3f, model %.3f %.3f", name, share(robust[0]), share(robust[1]), share(naive[0]), share(naive[1]))
		low := 0.93
		if c.persons < fewClusters {
			low = 0.91
		}
		requireCoverage(t, name+", person", robust[0], runs, low, 0.97)
		requireCoverage(t, name+", row", robust[1], runs, low, 0.97)
		// The model's own limits forget that rows of a person go together.
		require.Less(t, share(naive[0]), share(robust[0]), name)
	}
}
