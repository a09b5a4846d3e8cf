package stats

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

var influenceRows = []CauseCount{
	{Time: 0, Events: []int64{1, 0}}, {Time: 2, Events: []int64{3, 1}, Censored: 2}, {Time: 5, Events: []int64{0, 2}, Censored: 1},
	{Time: 7, Events: []int64{2, 0}, Censored: 4}, {Time: 11, Events: []int64{1, 1}, Censored: 0}, {Time: 12, Events: []int64{0, 0}, Censored: 6},
}

// TestInfluencesSquareToTheVariance holds Influence against the curve's own
// jackknife, at every time and for both causes, and checks that influences cancel.
func TestInfluencesSquareToTheVariance(t *testing.T) {
	curve, err := CumulativeIncidence(influenceRows)
	require.NoError(t, err)
	for cause := range 2 {
		for _, at := range []float64{0, 2, 4, 7, 11, 30} {
			f, err := IncidenceInfluence(influenceRows, cause, at)
			require.NoError(t, err)
			var sum, squares float64
			for _, r := range influenceRows {
				for kind, n := range []int64{r.Events[0], r.Events[1], r.Censored} {
					if n > 0 {
						v := f.Of(r.Time, kind)
						sum, squares = sum+float64(n)*v, squares+float64(n)*v*v
					}
				}
			}
			p, _ := curve.At(at)
			assert.True(t, almost(squares, p.Variance[cause], 1e-12), "cause %d at %g: %g, want %g", cause, at, squares, p.Variance[cause])
			assert.True(t, almost(sum, 0, 1e-12), "cause %d at %g: influences add to %g", cause, at, sum)
		}
	}
}

// TestInfluenceIsTheDerivative compares with the slope of the estimate when every
// unit weighs a million and one of them a little more.
func TestInfluenceIsTheDerivative(t *testing.T) {
	const weight = 1_000_000
	heavy := make([]CauseCount, len(influenceRows))
	at := func(rows []CauseCount) float64 {
		c, err := CumulativeIncidence(rows)
		require.NoError(t, err)
		p, _ := c.At(11)
		return p.Incidence[0]
	}
	for i, r := range influenceRows {
		heavy[i] = CauseCount{r.Time, []int64{r.Events[0] * weight, r.Events[1] * weight}, r.Censored * weight}
	}
	f, err := IncidenceInfluence(influenceRows, 0, 11)
	require.NoError(t, err)
	base := at(heavy)
	for i, r := range influenceRows {
		for kind := range 2 {
			if r.Events[kind] == 0 {
				continue
			}
			heavy[i].Events[kind]++
			slope := (at(heavy) - base) * weight
			heavy[i].Events[kind]--
			assert.True(t, almost(slope, f.Of(r.Time, kind), 1e-5), "time %g kind %d: slope %g, influence %g", r.Time, kind, slope, f.Of(r.Time, kind))
		}
	}
}

func TestInfluenceRefusesWhatItCannotKnow(t *testing.T) {
	_, err := IncidenceInfluence(influenceRows, 2, 5)
	assert.ErrorIs(t, err, ErrBadInput)
	_, err = IncidenceInfluence(nil, 0, 5)
	assert.ErrorIs(t, err, ErrNoData)
	f, err := IncidenceInfluence(influenceRows, 0, 7)
	require.NoError(t, err)
	assert.True(t, math.IsNaN(f.Of(3, 0)), "no unit left then")
	assert.True(t, math.IsNaN(f.Of(2, 3)), "there are two causes and censoring")
}

// Whole times are looked up by position and others are searched for: the same counts at
// the same times and at times half a day later must pull alike, and a time, or a kind, that
// none left at gives NaN either way.
func TestInfluencesOfWholeTimes(t *testing.T) {
	rows := []CauseCount{{2, []int64{1, 0}, 1}, {5, []int64{0, 2}, 0}, {9, []int64{3, 1}, 2}, {40, []int64{0, 0}, 4}}
	later := make([]CauseCount, len(rows))
	for i, r := range rows {
		later[i] = CauseCount{r.Time + 0.5, r.Events, r.Censored}
	}
	whole, err := IncidenceInfluence(rows, 0, 30)
	require.NoError(t, err)
	half, err := IncidenceInfluence(later, 0, 30)
	require.NoError(t, err)
	require.NotNil(t, whole.place)
	require.Nil(t, half.place)
	for time := -1.0; time < 45; time++ {
		for kind := -1; kind < 4; kind++ {
			a, b := whole.Of(time, kind), half.Of(time+0.5, kind)
			require.True(t, a == b || math.IsNaN(a) && math.IsNaN(b), "time %g, kind %d: %g, %g", time, kind, a, b)
		}
		require.True(t, time > 8 || math.IsNaN(whole.Of(time+0.25, 0)), "%g", time)
	}
	require.False(t, math.IsNaN(whole.Of(9, 2)))
}
