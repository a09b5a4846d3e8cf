package stats

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestScatteredLawHasItsMeanAndVariance(t *testing.T) {
	for _, phi := range []float64{1, 1.5, 2.2, 6} {
		for _, truth := range []float64{1, 2} {
			law, err := ScatteredScoreLaw([]CaseMix{{8, 1}}, 1.5, truth, phi)
			require.NoError(t, err)
			var mass, mean, square float64
			for i, s := range law.score {
				count := (s*phi + 8*0.5) / math.Log(1.5)
				mass, mean, square = mass+law.prob[i], mean+law.prob[i]*count, square+law.prob[i]*count*count
			}
			require.InDelta(t, 1, mass, 1e-10)
			require.InDelta(t, 8*truth, mean, 1e-7)
			require.InDelta(t, phi*8*truth, square-mean*mean, 1e-5)
		}
	}
}

func TestScatteredLawAgreesWithTheCounts(t *testing.T) {
	law, err := ScatteredScoreLaw([]CaseMix{{3, 1}}, 2, 1, 2.5)
	require.NoError(t, err)
	sum := 0.0
	for i := range 12 {
		sum += law.prob[i]
		lower, _, err := NegBinomialCDF(int64(i), 3, 3/1.5)
		require.NoError(t, err)
		require.InDelta(t, lower, sum, 1e-12, "at most %d events", i)
	}
}

func TestScatterLengthensTheLimit(t *testing.T) {
	limit := func(phi float64) float64 {
		law, err := ScatteredScoreLaw([]CaseMix{{8, 1}}, 2, 1, phi)
		require.NoError(t, err)
		h, _, err := CusumLimit(law, 360)
		require.NoError(t, err)
		return h
	}
	plain, err := PoissonScoreLaw([]CaseMix{{8 / 2.2, 1}}, 2, 1)
	require.NoError(t, err)
	divided, _, err := CusumLimit(plain, 360)
	require.NoError(t, err)
	require.Greater(t, limit(2.2), divided, "counts merely divided have too short a tail")
	for _, bad := range []float64{0.9, math.NaN(), math.Inf(1)} {
		_, err := ScatteredScoreLaw([]CaseMix{{8, 1}}, 2, 1, bad)
		require.ErrorIs(t, err, ErrBadInput)
	}
	_, err = ScatteredScoreLaw(nil, 2, 1, 2)
	require.ErrorIs(t, err, ErrNoData)
}
