//go:build coverage

package review

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"afterfit/internal/stats"
	"gonum.org/v1/gonum/mat"
)

// TestCoverageOfDoseSlopes: over 500 services the 95 % limits of the slope cover 93 to
// 97 %: as read where nothing is misread, corrected where it is, while those as read then
// miss nearly always.
func TestCoverageOfDoseSlopes(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 2))
	const runs = 500
	covered := func(m misread) (asRead, corrected float64) {
		for range runs {
			_, d := m.fitted(t, rng)
			truth := Num(math.Exp(m.slope))
			asRead += float64(one(d.Slope.Low <= truth && truth <= d.Slope.High)) / runs
			corrected += float64(one(d.Corrected.Low <= truth && truth <= d.Corrected.High)) / runs
		}
		return asRead, corrected
	}
	exact, _ := covered(misread{clinicians: 10, each: 100, slope: 0.15, spread: 1, errorSD: 0})
	thinned, corrected := covered(misread{clinicians: 10, each: 400, slope: 0.25, spread: 1, errorSD: 0.7})
	t.Logf("as read without error %.3f, as read with error %.3f, corrected %.3f", exact, thinned, corrected)
	assert.InDelta(t, 0.95, exact, 0.02)
	assert.InDelta(t, 0.95, corrected, 0.02)
	assert.Less(t, thinned, 0.1)
}

// TestCoverageOfDoseCurves: where nothing grows with the value the test of a level curve
// says so 95 times in 100, and the band at 1 mm covers.
func TestCoverageOfDoseCurves(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 3))
	const runs = 500
	var false5, held float64
	m := misread{clinicians: 10, each: 100, slope: 0, spread: 1}
	for range runs {
		f := m.draw(rng)
		settled, err := f.fit()
		require.NoError(t, err)
		require.True(t, settled)
		f.robust = mat.NewSymDense(len(f.knots)-1, nil) // single dentures of a Poisson law: the model's variance is right
		f.robust.CopySym(inverseOfTerms(f))
		flat, _ := f.tests()
		base, err := stats.SplineBasis(3, f.knots)
		require.NoError(t, err)
		p, err := f.point(1, base, 100)
		require.NoError(t, err)
		false5 += float64(one(flat < 0.05)) / runs
		held += float64(one(p.RatioLow <= 1 && 1 <= p.RatioHigh)) / runs
	}
	t.Logf("called not level %.3f, band covers %.3f", false5, held)
	assert.InDelta(t, 0.05, false5, 0.02)
	assert.InDelta(t, 0.95, held, 0.02)
}

func inverseOfTerms(f *doseFit) *mat.SymDense {
	k := len(f.knots) - 1
	out := mat.NewSymDense(k, nil)
	for i := range k {
		for j := i; j < k; j++ {
			out.SetSym(i, j, f.curve.Inverse.At(i, j))
		}
	}
	return out
}
