//go:build coverage

package stats

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
)

// world is one scenario of clustered outcomes: groups clusters of size rows (or 1 to
// 2 size - 1, evenly, with uneven set), half of them exposed, or half the rows of each with within set.
type world struct {
	name           string
	groups, size   int
	uneven, within bool
	family         Family
	firth          bool
	kind           ClusterKind
	base, ratio    float64 // mean of the unexposed, and by what exposure multiplies it
	shape          int     // a cluster's gamma effect has variance 1/shape
	share          float64 // of yes/no outcomes in a cluster, decided by one draw
	followUp       bool    // rows are followed for a quarter to all of the window
}

// draw returns a data set and the true difference of its standardised means.
func (w world) draw(rng *rand.Rand) (Patterns, []Composition, float64) {
	frame := glmFrame{Names: []string{"one", "exposed"}}
	exposure := 0.0
	for g := range w.groups {
		effect, common := 0.0, rng.Float64()
		for range w.shape {
			effect += rng.ExpFloat64() / float64(w.shape)
		}
		rows := w.size
		if w.uneven {
			rows = 1 + rng.IntN(2*w.size-1)
		}
		for k := range rows {
			x := float64(g % 2)
			if w.within {
				x = float64((g + k) % 2)
			}
			time := 1.0
			if w.followUp {
				time = float64(1+rng.IntN(4)) / 4
			}
			mean, y := w.base*(1+(w.ratio-1)*x), 0.0
			if w.family == Logistic {
				u := rng.Float64()
				if rng.Float64() < w.share {
					u = common
				}
				if u < mean {
					y = 1
				}
			} else {
				y = float64(poissonDraw(rng, effect*mean*time))
			}
			exposure += time
			frame.X, frame.Y = append(frame.X, []float64{1, x}), append(frame.Y, y)
			frame.Cluster, frame.Offset = append(frame.Cluster, float64(g)), append(frame.Offset, math.Log(time))
		}
	}
	d, clusters := collapse(frame)
	return d, merge(clusters), w.base * (w.ratio - 1) * exposure / float64(len(frame.Y))
}

func (w world) fit(d Patterns) (*Fit, error) {
	if w.firth {
		return FitFirth(d)
	}
	return FitGLM(w.family, d)
}

func (w world) truth() float64 {
	if w.family == Logistic {
		a, b := w.base, w.base*w.ratio
		return math.Log(b/(1-b)) - math.Log(a/(1-a))
	}
	return math.Log(w.ratio)
}

// cover counts limits that hold the true coefficient and difference, and warnings
// of few clusters.
func (w world) cover(t *testing.T, runs int) (coef, diff, warned int) {
	rng := rand.New(rand.NewPCG(20, 26))
	for range runs {
		d, clusters, difference := w.draw(rng)
		f, err := w.fit(d)
		require.NoError(t, err)
		cov, err := f.ClusterCovariance(w.kind, clusters)
		require.NoError(t, err)
		e, err := f.Wald(1, cov, 0.95)
		require.NoError(t, err)
		s, err := f.Standardise(setColumn(d, 1, 1), setColumn(d, 1, 0), cov, 0.95)
		require.NoError(t, err)
		coef += inside(e.Limits, w.truth())
		diff += inside(s.Difference.Limits, difference)
		for _, warning := range cov.Warnings {
			if warning.Code == "few clusters" {
				warned++
			}
		}
	}
	t.Logf("%s: coefficient %.4f, difference %.4f", w.name, float64(coef)/float64(runs), float64(diff)/float64(runs))
	return coef, diff, warned
}

// Persons with two rows, overdispersed visits, shares of a tenth, and follow-up that ends early.
func TestCoverageOfClusteredPatients(t *testing.T) {
	const runs = 1000
	for _, w := range []world{
		{name: "Poisson", groups: 300, size: 2, family: Poisson, kind: CR1, base: 1, ratio: 1.5, shape: 1},
		{name: "Poisson, within", groups: 300, size: 2, within: true, family: Poisson, kind: CR1, base: 1, ratio: 1.5, shape: 1},
		{name: "negative binomial", groups: 300, size: 2, family: NegativeBinomial, kind: CR1, base: 1, ratio: 1.5, shape: 1},
		{name: "logistic", groups: 300, size: 2, family: Logistic, kind: CR1, base: 0.1, ratio: 1.8, share: 0.5},
		{name: "logistic, within", groups: 300, size: 2, within: true, family: Logistic, kind: CR1, base: 0.1, ratio: 1.8, share: 0.5},
		{name: "Poisson, follow-up", groups: 200, size: 2, followUp: true, uneven: true, family: Poisson, kind: CR1, base: 2, ratio: 1.3, shape: 2},
		{name: "negative binomial, follow-up", groups: 200, size: 2, followUp: true, uneven: true, family: NegativeBinomial, kind: CR1, base: 2, ratio: 1.3, shape: 2},
		{name: "40 clusters of 20", groups: 40, size: 20, family: Poisson, kind: CR2, base: 1, ratio: 1.5, shape: 4},
	} {
		coef, diff, warned := w.cover(t, runs)
		requireCoverage(t, w.name+" coefficient", coef, runs, 0.93, 0.97)
		requireCoverage(t, w.name+" difference", diff, runs, 0.93, 0.97)
		require.Zero(t, warned)
	}
}

func TestCoverageOfFewClusters(t *testing.T) {
	const runs = 1500
	for _, groups := range []int{10, 20} {
		for _, w := range []world{
			{name: "even counts", size: 40, family: Poisson, shape: 4, base: 1, ratio: 1.5},
			{name: "uneven counts", size: 30, uneven: true, family: Poisson, shape: 4, base: 1, ratio: 1.5},
			{name: "counts within", size: 30, uneven: true, within: true, family: Poisson, shape: 4, base: 1, ratio: 1.5},
			{name: "uneven yes/no", size: 40, uneven: true, family: Logistic, share: 0.2, base: 0.2, ratio: 1.5},
		} {
			w.groups, w.kind = groups, CR2
			w.name = fmt.Sprintf("%d clusters, %s", groups, w.name)
			coef, diff, warned := w.cover(t, runs)
			require.Equal(t, runs, warned)
			requireCoverage(t, w.name+" coefficient", coef, runs, 0.93, 0.97)
			requireCoverage(t, w.name+" difference", diff, runs, 0.93, 0.97)
		}
	}
}

// Why CR2 is there: the plainer corrections fall short, and warn.
func TestCoverageOfPlainCorrectionsFallsShort(t *testing.T) {
	const runs = 1000
	for _, kind := range []ClusterKind{CR0, CR1} {
		w := world{name: fmt.Sprint("correction ", kind), groups: 10, size: 40, uneven: true, family: Logistic, share: 0.2, base: 0.2, ratio: 1.5, kind: kind}
		coef, _, warned := w.cover(t, runs)
		require.Equal(t, runs, warned)
		require.Less(t, float64(coef)/runs, 0.93, w.name)
	}
}

// Rare events in persons with two rows: Firth's estimate with a robust covariance.
func TestCoverageOfRareEvents(t *testing.T) {
	const runs = 1000
	for _, w := range []world{
		{name: "about 20 events", groups: 400, size: 2, family: Logistic, firth: true, kind: CR2, base: 0.018, ratio: 2, share: 0.5},
		{name: "about 40 events", groups: 400, size: 2, family: Logistic, firth: true, kind: CR2, base: 0.036, ratio: 2, share: 0.5},
	} {
		coef, diff, _ := w.cover(t, runs)
		requireCoverage(t, w.name+" coefficient", coef, runs, 0.93, 0.97)
		requireCoverage(t, w.name+" difference", diff, runs, 0.93, 0.97)
	}
}

func inside(i Interval, v float64) int {
	if i.Low <= v && v <= i.High {
		return 1
	}
	return 0
}

// firthCoverage is the share of limits that hold the truth, and of fits with Warning
// "few events", for n people of whom the given number is expected to have the event.
func firthCoverage(t *testing.T, n int, events, ratio float64) (share, warned float64) {
	const runs = 1000
	p0 := 2 * events / float64(n) / (1 + ratio)
	p1 := ratio * p0
	rng := rand.New(rand.NewPCG(20, 27))
	hits := 0
	for range runs {
		k := [2]int{}
		for i := range n {
			if rng.Float64() < []float64{p0, p1}[i%2] {
				k[i%2]++
			}
		}
		d := Patterns{Names: []string{"one", "exposed"}, X: []float64{1, 0, 1, 0, 1, 1, 1, 1}, Y: []float64{0, 1, 0, 1}}
		for _, v := range k {
			d.Weight = append(d.Weight, float64(n/2-v), float64(v))
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

// With 8 events or fewer the limits are conservative and say so; from 16 they keep
// the band, and from 30 the warning is gone.
func TestCoverageOfFirth(t *testing.T) {
	for _, n := range []int{200, 2000} {
		for _, ratio := range []float64{1, 3} {
			for _, events := range []float64{2, 8, 16, 30} {
				share, warned := firthCoverage(t, n, events, ratio)
				t.Logf("%d people, %g events, ratio %g: %.3f, warned %.3f", n, events, ratio, share, warned)
				if events <= 8 {
					require.True(t, share >= 0.95 && warned >= 0.98)
					continue
				}
				require.True(t, share >= 0.93 && share <= 0.97)
				require.True(t, events < 30 || warned < 0.01)
			}
		}
	}
}
