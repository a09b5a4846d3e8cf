package stats

import (
	"testing"

	"github.com/stretchr/testify/require"
)

type leukaemiaMonths struct{ Censored, Relapse, Died []float64 }

func (m leukaemiaMonths) rows() []CauseCount {
	var rows []CauseCount
	for _, t := range m.Censored {
		rows = append(rows, CauseCount{t, []int64{0, 0}, 1})
	}
	for _, t := range m.Relapse {
		rows = append(rows, CauseCount{t, []int64{1, 0}, 0})
	}
	for _, t := range m.Died {
		rows = append(rows, CauseCount{t, []int64{0, 1}, 0})
	}
	return rows
}

// Scrucca, Santucci & Aversa 2010, Bone Marrow Transplant 45:1388, print Gray's test of
// two kinds of leukaemia after transplantation; survival_gray.R has the data and cmprsk's
// own result.
func TestGrayTestOfPublishedExample(t *testing.T) {
	var ref struct {
		Months            struct{ ALL, AML leukaemiaMonths }
		Test, P, At       []float64
		Relapse, Variance [][]float64
	}
	loadReference(t, "survival_gray", &ref)
	groups := [][]CauseCount{ref.Months.ALL.rows(), ref.Months.AML.rows()}
	for cause, printed := range [][2]float64{{2.8623325, 0.09067592}, {0.4481279, 0.50322531}} {
		got, err := GrayTest([][][]CauseCount{groups}, cause)
		require.NoError(t, err)
		require.InDelta(t, printed[0], got.ChiSquare, 5e-8)
		require.InDelta(t, printed[1], got.P, 5e-9)
		requireVector(t, []float64{ref.Test[cause], ref.P[cause]}, []float64{got.ChiSquare, got.P}, 1e-8, "cmprsk")
	}
	for g, rows := range groups {
		curve, err := CumulativeIncidence(rows)
		require.NoError(t, err)
		require.EqualValues(t, []int64{73, 104}[g], curve.N)
		for i, at := range ref.At {
			p, _ := curve.At(at)
			requireVector(t, []float64{ref.Relapse[g][i], ref.Variance[g][i]}, []float64{p.Incidence[0], p.DeltaVariance[0]}, 1e-8, "relapse")
		}
	}
}
