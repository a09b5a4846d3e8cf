package stats

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Two strata by hand: 3 events on size 1 at 0 and 12 on size 2 at 1; 1 on 2 and 4 on
// 4. The rate doubles in both, so the coefficient is log 2, the levels are 3 and 1/2,
// and the information is 15 . 1/5 . 4/5 + 5 . 1/5 . 4/5.
func TestStratifiedPoissonByHand(t *testing.T) {
	cells := []StratumCell{{0, 0, 3, 1}, {0, 1, 12, 2}, {1, 0, 1, 2}, {1, 1, 4, 4}, {2, 1, 0, 9}, {3, 1, 7, 1}}
	f, err := StratifyPoisson([]float64{0, 1}, 1, cells, 4)
	require.NoError(t, err)
	assert.InDelta(t, math.Log(2), f.Coef[0], 1e-12)
	assert.InDelta(t, 1/(15*0.16+5*0.16), f.Inverse.At(0, 0), 1e-12)
	assert.InDeltaSlice(t, []float64{3, 0.5, 0, 3.5}, f.Base, 1e-12)
	assert.InDeltaSlice(t, []float64{0.8, 0.8, 0, 1}, f.Mean, 1e-12)
	assert.InDelta(t, 27, f.Events, 0)
}

// TestStratifiedPoissonIsAPoissonRegression sets the conditional fit beside the whole
// regression with a factor for the stratum.
func TestStratifiedPoissonIsAPoissonRegression(t *testing.T) {
	rows := []float64{0, 0, 1, 0.3, 2, 1.9, 3, 0.1}
	var cells []StratumCell
	data := Patterns{Names: []string{"x", "z", "s0", "s1", "s2"}}
	for s := range 3 {
		for r := range 4 {
			c := StratumCell{s, r, float64((5*s + 3*r + s*r*r) % 7), 0.5 + float64(r+2*s)}
			cells = append(cells, c)
			row := []float64{rows[2*r], rows[2*r+1], 0, 0, 0}
			row[2+s] = 1
			data.X, data.Y, data.Offset = append(data.X, row...), append(data.Y, c.Events), append(data.Offset, math.Log(c.Size))
		}
	}
	whole, err := FitGLM(Poisson, data)
	require.NoError(t, err)
	f, err := StratifyPoisson(rows, 2, cells, 3)
	require.NoError(t, err)
	cov := whole.ModelCovariance().Matrix
	for j := range 2 {
		require.InDelta(t, whole.Coef[j], f.Coef[j], 1e-10)
		for k := range 2 {
			require.InDelta(t, cov.At(j, k), f.Inverse.At(j, k), 1e-9)
		}
	}
	for s := range 3 {
		require.InDelta(t, math.Exp(whole.Coef[2+s]), f.Base[s], 1e-9)
	}
}

func TestStratifiedPoissonWithoutAnswer(t *testing.T) {
	same := []float64{1, 2, 2, 4} // the second column is twice the first
	f, err := StratifyPoisson(same, 2, []StratumCell{{0, 0, 3, 1}, {0, 1, 5, 1}}, 1)
	require.NoError(t, err)
	assert.True(t, math.IsNaN(f.Coef[1]))
	assert.InDelta(t, math.Log(5.0/3), f.Coef[0], 1e-12)
	assert.Zero(t, f.Inverse.At(1, 1))

	_, err = StratifyPoisson(same, 2, []StratumCell{{0, 0, 3, 1}, {1, 1, 5, 1}}, 2)
	require.ErrorIs(t, err, ErrNoAnswer, "nothing varies within a stratum")
	_, err = StratifyPoisson(same, 2, []StratumCell{{0, 0, 0, 1}, {0, 1, 0, 1}}, 1)
	require.ErrorIs(t, err, ErrNoData)
	for name, c := range map[string]StratumCell{"stratum": {2, 0, 1, 1}, "row": {0, 2, 1, 1}, "events": {0, 0, -1, 1}, "size": {0, 0, 1, 0}, "infinite": {0, 0, 1, math.Inf(1)}} {
		_, err = StratifyPoisson(same, 2, []StratumCell{c}, 1)
		require.ErrorIs(t, err, ErrBadInput, name)
	}
	_, err = StratifyPoisson([]float64{1, math.NaN()}, 2, nil, 1)
	require.ErrorIs(t, err, ErrBadInput)
}
