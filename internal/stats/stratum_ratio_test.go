package stats

import (
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
)

type ratioRows struct {
	Stratum, Cluster                  []int
	X, Y, Events, Size                []float64
	LogRatio, Variance, Model, Robust float64
	Clusters                          float64
}

// gathered sums rows into strata 1..k.
func (r ratioRows) gathered() []Stratum {
	out := make([]Stratum, slices.Max(r.Stratum))
	events := r.Events
	if events == nil {
		events = r.Y
	}
	for i, s := range r.Stratum {
		side := int(r.X[i])
		out[s-1].Events[side] += events[i]
		out[s-1].Size[side] += r.Size[i]
	}
	return out
}

// TestCommonRatioAgreesWithPoissonRegression compares with R's glm and sandwich.
func TestCommonRatioAgreesWithPoissonRegression(t *testing.T) {
	var ref struct{ Esoph, Rows ratioRows }
	loadReference(t, "stratum_ratio", &ref)
	e, err := StratifyRatio(ref.Esoph.gathered())
	require.NoError(t, err)
	require.True(t, almost(e.LogRatio, ref.Esoph.LogRatio, 1e-10), "%v, R has %v", e.LogRatio, ref.Esoph.LogRatio)
	require.True(t, relative(1/e.Information, ref.Esoph.Variance, 1e-9), "%v, R has %v", 1/e.Information, ref.Esoph.Variance)

	r := ref.Rows
	f, err := StratifyRatio(r.gathered())
	require.NoError(t, err)
	require.True(t, almost(f.LogRatio, r.LogRatio, 1e-10), "%v, R has %v", f.LogRatio, r.LogRatio)
	// R takes the weights of the iteration before the last, which are right to about 1e-8.
	require.True(t, relative(1/f.Information, r.Model, 1e-7), "%v, R has %v", 1/f.Information, r.Model)
	// The robust variance is the sum of the clusters' squared scores over the information squared.
	scores := map[int]float64{}
	for i, s := range r.Stratum {
		c := f.Strata[s-1]
		if !c.Compared {
			continue
		}
		scores[r.Cluster[i]] += (r.X[i] - c.Share) * (r.Y[i] - r.Size[i]*c.Base*math.Exp(f.LogRatio*r.X[i]))
	}
	squares := 0.0
	for g := range slices.Max(r.Cluster) + 1 {
		squares += scores[g] * scores[g]
	}
	require.Equal(t, r.Clusters, float64(len(scores)))
	require.True(t, relative(squares/f.Information/f.Information, r.Robust, 1e-7), "%v, R has %v", squares/f.Information/f.Information, r.Robust)
}

// One stratum by hand: 6 events on size 2 with, 3 on size 4 without: 3 / 0.75 = 4, and
// 9 events shared 2 to 1 carry 9 (2/3)(1/3) = 2 of information.
func TestOneStratumByHand(t *testing.T) {
	f, err := StratifyRatio([]Stratum{{Events: [2]float64{3, 6}, Size: [2]float64{4, 2}}, {Events: [2]float64{50, 0}, Size: [2]float64{9, 0}}, {Size: [2]float64{1, 1}}})
	require.NoError(t, err)
	require.True(t, almost(f.LogRatio, math.Log(4), 1e-13))
	require.True(t, almost(f.Information, 2, 1e-12))
	require.Equal(t, 2, f.Compared)
	require.Equal(t, [2]float64{3, 6}, f.Events)
	require.Equal(t, [2]float64{5, 3}, f.Size)
	require.False(t, f.Strata[1].Compared)
	require.True(t, f.Strata[2].Compared)
	require.Zero(t, f.Strata[2].Base)
	require.True(t, almost(f.Strata[0].Base, 0.75, 1e-13))
}

// A start that is the answer must stay there: 2 of 4 against 1 of 2 is a ratio of 1.
func TestStartAtTheAnswerStays(t *testing.T) {
	f, err := StratifyRatio([]Stratum{{Events: [2]float64{2, 1}, Size: [2]float64{4, 2}}})
	require.NoError(t, err)
	require.True(t, almost(f.LogRatio, 0, 1e-14))
}

func TestCommonRatioWithoutAnswer(t *testing.T) {
	_, err := StratifyRatio(nil)
	require.ErrorIs(t, err, ErrNoData)
	_, err = StratifyRatio([]Stratum{{Events: [2]float64{3, 0}, Size: [2]float64{1, 0}}})
	require.ErrorIs(t, err, ErrNoData)
	_, err = StratifyRatio([]Stratum{{Events: [2]float64{3, 0}, Size: [2]float64{1, 1}}})
	require.ErrorIs(t, err, ErrNoAnswer)
	_, err = StratifyRatio([]Stratum{{Events: [2]float64{math.NaN(), 1}, Size: [2]float64{1, 1}}})
	require.ErrorIs(t, err, ErrBadInput)
	far, err := StratifyRatio([]Stratum{{Events: [2]float64{1, 1e6}, Size: [2]float64{1e6, 1}}, {Events: [2]float64{1, 1e6}, Size: [2]float64{1e6, 1}}})
	require.NoError(t, err)
	require.True(t, almost(far.LogRatio, math.Log(1e12), 1e-10))
}
