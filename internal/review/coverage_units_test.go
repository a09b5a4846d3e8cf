//go:build coverage

package review

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat/distuv"

	"afterfit/internal/stats"
)

// visitsOf draws one patient's events: a negative binomial count with variance 2.2
// times the mean, as a gamma mixture of Poisson counts.
func visitsOf(rng *rand.Rand, mean float64) float64 {
	rate := 1 / 1.2
	return distuv.Poisson{Lambda: distuv.Gamma{Alpha: mean * rate, Beta: rate, Src: rng}.Rand(), Src: rng}.Rand()
}

// nullWorld is a service of clinicians over months, drawn patient by patient.
type nullWorld struct {
	sums   []unitSum
	series []*timeSeries
	phi    float64
}

// drawn lets clinician 0 work at times the rate of the others. Expected counts are
// scaled so that the totals agree, as a fitted case-mix model makes them.
func drawn(rng *rand.Rand, clinicians, months int, times float64) nullWorld {
	var s nullWorld
	var total, expected, squares float64
	for c := range clinicians {
		u := unitSum{code: string(rune('A' + c%26)), n: 0}
		t := &timeSeries{sums: make([]timeSum, months)}
		perMonth := 2 + rng.IntN(6)
		for m := range months {
			for range perMonth {
				mean := 0.8 + 1.6*rng.Float64()
				truth := mean
				if c == 0 {
					truth *= times
				}
				y := visitsOf(rng, truth)
				u.n, u.patients, u.observed, u.expected = u.n+1, u.patients+1, u.observed+int64(y), u.expected+mean
				x := &t.sums[m]
				x.n, x.observed, x.expected, x.share = x.n+1, x.observed+int64(y), x.expected+mean, x.share+1
				total, expected, squares = total+y, expected+mean, squares+(y-mean)*(y-mean)
			}
		}
		s.sums, s.series = append(s.sums, u), append(s.series, t)
	}
	s.phi = squares / expected
	if times == 1 {
		for i := range s.sums {
			s.sums[i].expected *= total / expected
		}
	}
	return s
}

// TestCoverageOfUnitFlags: over 500 services in which all work alike, at most 0.5 % of
// clinicians lie outside the 99.8 % limits, and about 5 % outside the 95 % limits.
func TestCoverageOfUnitFlags(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 1))
	q := &asker{s: DefaultSettings()}
	var judged, near, far int
	for range 500 {
		s := drawn(rng, 12, 24, 1)
		table, err := q.unitTable(&MixFit{Model: MixModel{Outcome: Adjustments, Dispersion: Num(s.phi)}}, s.sums)
		require.NoError(t, err)
		for _, u := range table.Units {
			if u.Ratio.TooFew == "" {
				judged++
				near += one(u.Flag != 0)
				far += one(u.Flag == 2 || u.Flag == -2)
			}
		}
	}
	t.Logf("outside 95 %%: %.4f, outside 99.8 %%: %.4f of %d", float64(near)/float64(judged), float64(far)/float64(judged), judged)
	assert.Greater(t, judged, 5000)
	assert.LessOrEqual(t, float64(far)/float64(judged), 0.005)
	assert.LessOrEqual(t, float64(near)/float64(judged), 0.055)
	assert.Greater(t, float64(near)/float64(judged), 0.02, "limits this wide would find nobody")
}

// TestCoverageOfMonthlyCharts: with nothing changed the runs rules signal no more often
// than the chance that each chart states, and points beyond three standard errors stay
// below 1 in 100.
func TestCoverageOfMonthlyCharts(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 2))
	q := &asker{s: DefaultSettings()}
	var charts, points, beyond, runs int
	stated := 0.0
	for range 500 {
		for _, series := range drawn(rng, 4, 36, 1).series {
			c, err := q.timeChart(series, byMonth, 36, 1.6)
			require.NoError(t, err)
			charts, points, stated = charts+1, points+36, stated+float64(c.FalseSignal)
			for _, p := range c.Points {
				beyond += one(p.Beyond != 0)
			}
			signals := 0
			for _, rule := range c.Broken {
				signals += one(rule != ruleBeyond)
			}
			runs += one(signals > 0)
		}
	}
	rate, allowed := float64(runs)/float64(charts), stated/float64(charts)
	t.Logf("runs rules: %.4f of charts, stated %.4f; beyond limits: %.4f of points", rate, allowed, float64(beyond)/float64(points))
	assert.LessOrEqual(t, rate, allowed+3*math.Sqrt(allowed*(1-allowed)/float64(charts)))
	assert.LessOrEqual(t, float64(beyond)/float64(points), 0.01)
}

// TestCoverageOfUnitCusums: five patients a month whose events scatter by 2.2 times the
// mean. The charts signal as seldom as their limit states when nothing is raised, and
// find a doubled rate in the time that theory gives.
func TestCoverageOfUnitCusums(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 3))
	const patients, mean, phi, ratio, signals = 5, 1.6, 2.2, 2, 4000
	levels := []float64{patients * mean, patients * mean, patients * mean, patients * mean}
	limit, stated, err := cusumLimit(levels, ratio, phi, 360)
	require.NoError(t, err)
	raised, err := scoreLaw(levels, ratio, 2, phi)
	require.NoError(t, err)
	theory, err := stats.RunLength(raised, limit)
	require.NoError(t, err)
	months := func(times float64) float64 {
		steps := 0
		for range signals {
			for sum := 0.0; sum < limit; steps++ {
				events := 0.0
				for range patients {
					events += visitsOf(rng, times*mean)
				}
				score, err := stats.PoissonScore(events/phi, patients*mean/phi, ratio)
				require.NoError(t, err)
				sum = max(0, sum+score)
			}
		}
		return float64(steps) / signals
	}
	calm, found := months(1), months(2)
	t.Logf("between false signals: %.0f months, stated %.0f; to find a doubled rate: %.2f months, theory %.2f", calm, stated, found, theory)
	assert.InDelta(t, stated, calm, 0.05*stated)
	assert.InDelta(t, theory, found, 0.05*theory)
}
