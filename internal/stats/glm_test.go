package stats

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestGLMHostileInput(t *testing.T) {
	ones := func(y ...float64) Patterns {
		return Patterns{Names: []string{"one"}, X: orConstant(nil, len(y), 1), Y: y}
	}
	for _, y := range []float64{math.NaN(), math.Inf(1), -1} {
		_, err := FitGLM(Poisson, ones(1, y))
		require.ErrorIs(t, err, ErrBadInput)
	}
	_, err := FitGLM(Poisson, ones())
	require.ErrorIs(t, err, ErrNoData)
	none := ones(1, 2)
	none.Weight = []float64{0, 0}
	_, err = FitGLM(Poisson, none)
	require.ErrorIs(t, err, ErrNoData)
	f, err := FitGLM(Poisson, ones(0, 0, 0))
	require.NoError(t, err)
	require.Equal(t, []string{"one"}, f.Separated)
	huge := ones(0, 3)
	huge.Weight = []float64{2e12, 1e12}
	f, err = FitGLM(Poisson, huge)
	require.NoError(t, err)
	require.InDelta(t, 0, f.Coef[0], 1e-12)
}

func TestAliasedColumnIsNamed(t *testing.T) {
	d := Patterns{Names: []string{"one", "a", "b"}, X: []float64{1, 0, 1, 1, 1, 0, 1, 0, 1, 1, 1, 0}, Y: []float64{1, 2, 3, 5}}
	f, err := FitGLM(Poisson, d)
	require.NoError(t, err)
	require.Equal(t, []string{"b"}, f.Aliased)
	require.True(t, math.IsNaN(f.Coef[2]))
	// Closed form: the logarithm of the ratio of the means 3.5 and 2.
	require.InDelta(t, math.Log(3.5/2), f.Coef[1], 1e-12)
}

func TestSplittingAndRescalingChangeNothing(t *testing.T) {
	d, _ := collapse(loadGLM(t).Epil)
	f, err := FitGLM(NegativeBinomial, d)
	require.NoError(t, err)
	p := len(d.Names)
	s := Patterns{Names: d.Names}
	for i := len(d.Y) - 1; i >= 0; i-- {
		for _, share := range []float64{0.25, 0.75} {
			row := append([]float64{}, d.X[i*p:i*p+p]...)
			row[1] *= 1e6
			s.X, s.Y, s.Weight = append(s.X, row...), append(s.Y, d.Y[i]), append(s.Weight, share*d.Weight[i])
		}
	}
	g, err := FitGLM(NegativeBinomial, s)
	require.NoError(t, err)
	want := append([]float64{}, f.Coef...)
	want[1] /= 1e6
	requireVector(t, want, g.Coef, 1e-8, "coef")
	requireVector(t, []float64{f.Theta, f.LogLik}, []float64{g.Theta, g.LogLik}, 1e-8, "theta")
}

func BenchmarkNegativeBinomial5000x20(b *testing.B) {
	rng := rand.New(rand.NewPCG(1, 2))
	d := Patterns{Names: make([]string, 20)}
	for range 5000 {
		eta := -0.5
		for j := range 20 {
			v := float64(rng.IntN(2))
			if j == 0 {
				v = 1
			}
			d.X, eta = append(d.X, v), eta+0.05*v
		}
		d.Y = append(d.Y, math.Floor(math.Exp(eta)*2*rng.ExpFloat64()))
		d.Weight = append(d.Weight, float64(1+rng.IntN(5)))
	}
	for b.Loop() {
		if _, err := FitGLM(NegativeBinomial, d); err != nil {
			b.Fatal(err)
		}
	}
}
