//go:build coverage

package stats

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat/distuv"
)

// requireCoverage accepts the stated band; the seed is fixed, so the share is too.
func requireCoverage(t *testing.T, what string, hits, runs int, low, high float64) {
	t.Helper()
	share := float64(hits) / float64(runs)
	t.Logf("%s: %.4f of %d", what, share, runs)
	require.GreaterOrEqual(t, share, low, what)
	require.LessOrEqual(t, share, high, what)
}

// Exact sums over the binomial law instead of draws: coverage itself, no noise.
func TestCoverageOfProportions(t *testing.T) {
	for _, n := range []int64{50, 200, 1000} {
		average := 0.0
		grid := []float64{0.02, 0.035, 0.05, 0.1, 0.2, 0.3, 0.5}
		for _, p := range grid {
			wilsonShare, exactShare, before := 0.0, 0.0, 0.0
			for k := range n + 1 {
				low, _ := binomialTails(k, n, p)
				mass := low - before
				before = low
				w, err := Wilson(k, n, 0.95)
				require.NoError(t, err)
				if w.Low <= p && p <= w.High {
					wilsonShare += mass
				}
				if mass > 1e-12 {
					c := clopperPearson(float64(k), float64(n), 0.025)
					if c.Low <= p && p <= c.High {
						exactShare += mass
					}
				}
			}
			require.GreaterOrEqual(t, wilsonShare, 0.92, "n %d p %g", n, p)
			require.GreaterOrEqual(t, exactShare, 0.95-1e-9, "n %d p %g", n, p)
			average += wilsonShare / float64(len(grid))
		}
		t.Logf("Wilson, n = %d: %.4f on average", n, average)
		require.InDelta(t, 0.95, average, 0.02)
	}
}

// Over a fine grid of what is expected: where coverage leaves 93-97 %, the caution that
// belongs to the method speaks for most outcomes.
func TestCoverageSwingsOfProportionsAreWarnedOf(t *testing.T) {
	for _, n := range []int64{20, 50, 200, 1000} {
		wilson, exact := make([]Interval, n+1), make([]Interval, n+1)
		for k := range n + 1 {
			wilson[k], _ = Wilson(k, n, 0.95)
			exact[k], _ = ClopperPearson(k, n, 0.95)
		}
		lowest, highest := 1.0, 0.0
		for expected := 0.2; expected <= math.Min(float64(n)/2, 60); expected *= 1.05 {
			p := expected / float64(n)
			about := fmt.Sprintf("n %d, %.2f expected", n, expected)
			counts, chance := masses(n, func(k int64) (float64, float64) { return binomialTails(k, n, p) })
			share, warned := sharesOf(counts, chance, p, func(k int64) (Interval, []Warning) { return wilson[k], WilsonWarnings(k, n) })
			lowest, highest = math.Min(lowest, share), math.Max(highest, share)
			require.InDelta(t, 0.94, share, 0.046, about)
			if share < 0.93 || share > 0.97 {
				require.Greater(t, warned, 0.9, about)
			}
			share, warned = sharesOf(counts, chance, p, func(k int64) (Interval, []Warning) { return exact[k], ClopperPearsonWarnings(k, n) })
			require.GreaterOrEqual(t, share, 0.95-1e-6, about)
			if share > 0.97 {
				require.Greater(t, warned, 0.5, about)
			}
		}
		t.Logf("Wilson, n = %d: %.3f to %.3f", n, lowest, highest)
	}
}

// sharesOf sums the chances of the counts whose interval holds the truth, and of those
// that carry a caution.
func sharesOf(counts []int64, chance []float64, truth float64, at func(int64) (Interval, []Warning)) (covered, warned float64) {
	for i, k := range counts {
		iv, w := at(k)
		if iv.Low <= truth && truth <= iv.High {
			covered += chance[i]
		}
		if len(w) > 0 {
			warned += chance[i]
		}
	}
	return covered, warned
}

func TestCoverageOfPoissonRates(t *testing.T) {
	for mean := 0.5; mean < 120; mean *= 1.1 {
		counts, chance := masses(int64(mean+12*math.Sqrt(mean))+20, func(k int64) (float64, float64) { return poissonTails(k, mean) })
		share, warned := sharesOf(counts, chance, mean, func(k int64) (Interval, []Warning) {
			iv, err := PoissonExact(k, 1, 0.95)
			require.NoError(t, err)
			return iv, PoissonExactWarnings(k)
		})
		t.Logf("exact Poisson, mean %.1f: %.4f", mean, share)
		require.GreaterOrEqual(t, share, 0.95-1e-6)
		if share > 0.97 {
			require.Greater(t, warned, 0.5, "mean %g", mean)
		}
	}
}

// Clusters have one or two subjects, a shared gamma propensity, events that crowd into the
// first days, and follow-up that ends at random.
func TestCoverageOfRobustMCF(t *testing.T) {
	const runs, day = 2000, 60
	for _, groups := range []int{40, 150, 600} {
		rng := rand.New(rand.NewPCG(7, uint64(groups)))
		hits := 0
		for range runs {
			clusters := make([]ClusterSignature, groups)
			for i := range clusters {
				clusters[i] = drawCluster(rng)
			}
			m, err := MeanCumulative(signatureCounts(clusters))
			require.NoError(t, err)
			row, _, err := m.At(day)
			require.NoError(t, err)
			robust, err := m.RobustVariance(day, clusters)
			require.NoError(t, err)
			iv, err := row.Limits(robust.Variance, 0.95)
			require.NoError(t, err)
			if truth := crowdedMean(day); iv.Low <= truth && truth <= iv.High {
				hits++
			}
		}
		requireCoverage(t, "robust mean cumulative function", hits, runs, 0.93, 0.97)
	}
}

// crowdedMean is the expected number of events up to and including a day; it levels off
// at 1.5 on a ten-day scale.
func crowdedMean(day int) float64 { return 1.5 * (1 - math.Exp(-float64(day+1)/10)) }

func drawCluster(rng *rand.Rand) ClusterSignature {
	propensity := distuv.Gamma{Alpha: 1.5, Beta: 1.5, Src: rng}.Rand()
	c := ClusterSignature{N: 1}
	for range 1 + rng.IntN(2) {
		end := min(90, rng.IntN(150))
		c.Ends = append(c.Ends, end)
		for day := range end + 1 {
			step := crowdedMean(day) - crowdedMean(day-1)
			for range int(poissonDraw(rng, propensity*step)) {
				c.Events = append(c.Events, day)
			}
		}
	}
	return c
}

// poissonDraw multiplies uniforms, which is right and fast for small means.
func poissonDraw(rng *rand.Rand, mean float64) int {
	n, product, floor := 0, rng.Float64(), math.Exp(-mean)
	for product > floor {
		n++
		product *= rng.Float64()
	}
	return n
}

// Rare events with censoring spread over the year, read at day 300.
func TestCoverageOfKaplanMeierLogLog(t *testing.T) {
	const runs, day = 4000, 300
	for _, c := range []struct {
		units int
		risk  float64
	}{{100, 0.05}, {400, 0.05}, {150, 0.3}, {1000, 0.02}} {
		rng := rand.New(rand.NewPCG(11, uint64(c.units)))
		hits := 0
		for range runs {
			rows := make([]TimeCount, c.units)
			for i := range rows {
				event := 365 * math.Log(rng.Float64()) / math.Log(1-c.risk)
				end := 100 + rng.Float64()*500
				rows[i] = TimeCount{Time: math.Ceil(min(event, end))}
				if event <= end {
					rows[i].Events = 1
				} else {
					rows[i].Censored = 1
				}
			}
			curve, err := KaplanMeier(rows)
			require.NoError(t, err)
			p, _ := curve.At(day)
			iv, err := p.Limits(0.95, LogLog)
			require.NoError(t, err)
			if truth := math.Pow(1-c.risk, day/365.0); iv.Low <= truth && truth <= iv.High {
				hits++
			}
		}
		requireCoverage(t, "log-log limits", hits, runs, 0.93, 0.97)
	}
}
