package stats

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
)

// A saturated model's penalised estimates are known: (events + 1/2)/(n + 1) in each
// group. With one observation in a group its leverage is 1, where plain scoring swings
// about the estimate for ever.
func TestFirthOfSaturatedGroups(t *testing.T) {
	for _, c := range []struct{ y, n [2]float64 }{{[2]float64{1, 0}, [2]float64{1, 1}}, {[2]float64{1, 1}, [2]float64{1, 3}}, {[2]float64{0, 0}, [2]float64{2, 1}}, {[2]float64{0, 7}, [2]float64{40, 9}}} {
		d := Patterns{Names: []string{"one", "x"}}
		for g := range 2 {
			for _, y := range []float64{0, 1} {
				d.X, d.Y = append(d.X, 1, float64(g)), append(d.Y, y)
				d.Weight = append(d.Weight, y*c.y[g]+(1-y)*(c.n[g]-c.y[g]))
			}
		}
		f, err := FitFirth(d)
		require.NoError(t, err, "%v", c)
		logit := func(g int) float64 { return math.Log((c.y[g] + 0.5) / (c.n[g] - c.y[g] + 0.5)) }
		requireVector(t, []float64{logit(0), logit(1) - logit(0)}, f.Coef, 1e-8, "saturated")
	}
}

// Random designs of up to six rows, most of them separated, saturated or aliased: the
// penalised fit always has an answer, and so has the logistic one.
func TestTinyDesignsConverge(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	fitted := 0
	for range 1000 {
		n := 1 + rng.IntN(6)
		draw := func(k, top int) []float64 {
			out := make([]float64, k)
			for i := range out {
				out[i] = float64(rng.IntN(top))
			}
			return out
		}
		d := Patterns{Names: []string{"a", "b"}, X: draw(2*n, 4), Y: draw(n, 2), Weight: draw(n, 4), Offset: draw(n, 4)}
		for name, kind := range everyFit {
			_, err := kind.fit(d)
			if err == nil {
				fitted++
				continue
			}
			slow := name == "nb" && errors.Is(err, ErrNoConvergence)
			require.True(t, slow || errors.Is(err, ErrNoData) || errors.Is(err, ErrBadInput), "%s: %v on %+v", name, err, d)
		}
	}
	require.Greater(t, fitted, 2000)
}

// No event at all, and weights beyond the range of squares: no dispersion to be had,
// and no panic from asking for one.
func TestDispersionWithoutAnswer(t *testing.T) {
	f, err := FitGLM(NegativeBinomial, Patterns{Names: []string{"a"}, X: []float64{3, 1, 2}, Y: []float64{0, 0, 0}, Weight: []float64{3, 3, 1}})
	require.NoError(t, err)
	require.True(t, math.IsInf(f.Theta, 1), "%g", f.Theta)
	require.Equal(t, []string{"a"}, f.Separated)
	for _, big := range []float64{1e15, 1e150, 1e300} {
		f, err := FitGLM(NegativeBinomial, Patterns{Names: []string{"a", "b"}, X: []float64{1, 0, 1, 1, 1, 2}, Y: []float64{1e6, 2001, 1e15}, Weight: []float64{1, big, 2}})
		if err != nil {
			require.True(t, errorsAre(err, ErrBadInput, ErrNoConvergence), "%v", err)
			continue
		}
		require.True(t, f.Theta > 0 && !math.IsNaN(f.LogLik))
	}
}

// Small survival data with ties, strata and late entry, where almost half of all fits
// are monotone: fewer than one in a thousand may end without saying which column.
func TestTinyCoxFitsEnd(t *testing.T) {
	rng := rand.New(rand.NewPCG(4, 4))
	ended, monotone, stuck := 0, 0, 0
	for range 4000 {
		p := CoxPatterns{Names: []string{"a", "b"}}
		n := 4 + rng.IntN(5)
		for range n {
			p.X, p.Offset = append(p.X, rng.Float64()*2-1, float64(rng.IntN(3))), append(p.Offset, rng.Float64()*2-1)
			p.Stratum = append(p.Stratum, rng.IntN(2))
		}
		var rows []CoxRow
		for range 5 + rng.IntN(20) {
			entry := float64(rng.IntN(6) - 2)
			rows = append(rows, CoxRow{rng.IntN(n), entry, entry + 1 + float64(rng.IntN(5)), rng.IntN(2) == 0, float64(rng.IntN(4))})
		}
		f, err := FitCox(p, rows, CoxOptions{Breslow: rng.IntN(2) == 0, LeftTruncated: rng.IntN(2) == 0})
		switch {
		case errors.Is(err, ErrNoConvergence):
			stuck++
		case err == nil && len(f.Monotone) > 0:
			monotone++
			ended++
		case err == nil:
			ended++
		}
	}
	require.Greater(t, ended, 3200)
	require.Greater(t, monotone, 1200)
	require.Less(t, 1000*stuck, ended, "%d of %d", stuck, ended)
}
