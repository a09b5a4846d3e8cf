package stats

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
)

// coxFrame is one fit of cox_fit.R.
type coxFrame struct {
	Names                                       []string
	X, Model, Robust                            [][]float64
	Time, Event, Entry, Offset, Weight, Cluster []float64
	Stratum                                     []int
	Coef, LogLik                                []float64
	Score, Wald                                 float64
	ZPH                                         map[string]struct{ Chisq, P []float64 }
	Points                                      *struct{ Time, First, G []float64 }
	BaseHaz                                     *struct{ Time, Hazard []float64 }
}

// options are those under which R made the fit.
func (c coxFrame) options(name string) CoxOptions {
	return CoxOptions{Breslow: name == "lungBreslow", LeftTruncated: c.Entry != nil}
}

// collapse makes patterns, rows and cluster compositions, as a query would.
func (c coxFrame) collapse() (CoxPatterns, []CoxRow, []Composition) {
	p, index, place := CoxPatterns{Names: c.Names}, map[string]int{}, map[CoxRow]int{}
	at := func(v []float64, i int, otherwise float64) float64 {
		if v == nil {
			return otherwise
		}
		return v[i]
	}
	var rows []CoxRow
	members := map[float64]map[int]float64{}
	for i, x := range c.X {
		stratum := 0
		if c.Stratum != nil {
			stratum = c.Stratum[i]
		}
		key := rowKey(append(append([]float64{}, x...), float64(stratum)), at(c.Offset, i, 0))
		j, ok := index[key]
		if !ok {
			j = len(p.Offset)
			index[key] = j
			p.X, p.Offset, p.Stratum = append(p.X, x...), append(p.Offset, at(c.Offset, i, 0)), append(p.Stratum, stratum)
		}
		row := CoxRow{Pattern: j, Entry: at(c.Entry, i, 0), Time: c.Time[i], Event: c.Event[i] == 1}
		k, ok := place[row]
		if !ok {
			k = len(rows)
			place[row] = k
			rows = append(rows, row)
		}
		rows[k].Count += at(c.Weight, i, 1)
		if g := at(c.Cluster, i, 0); c.Cluster != nil {
			if members[g] == nil {
				members[g] = map[int]float64{}
			}
			members[g][k]++
		}
	}
	var clusters []Composition
	for _, m := range members {
		one := Composition{N: 1}
		for k, n := range m {
			one.Members = append(one.Members, Member{k, n})
		}
		clusters = append(clusters, one)
	}
	return p, rows, clusters
}

func loadCox(t *testing.T) map[string]coxFrame {
	t.Helper()
	var ref struct{ Fits map[string]coxFrame }
	loadReference(t, "cox_fit", &ref)
	require.Len(t, ref.Fits, 11)
	return ref.Fits
}

// Reference: R 4.2.2, survival 3.5.3, coxph, cox.zph and basehaz on lung, veteran,
// bladder and cgd (testdata/reference/cox_fit.R).
func TestCoxAgreesWithR(t *testing.T) {
	for name, want := range loadCox(t) {
		t.Run(name, func(t *testing.T) {
			p, rows, clusters := want.collapse()
			f, err := FitCox(p, rows, want.options(name))
			require.NoError(t, err)
			require.Empty(t, f.Warnings)
			requireVector(t, want.Coef, f.Coef, 1e-6, "coef")
			requireVector(t, want.LogLik, []float64{f.NullLogLik, f.LogLik}, 1e-10, "loglik")
			requireMatrix(t, want.Model, f.ModelCovariance().Matrix, 1e-6, "model")
			score, err := f.ScoreTest()
			require.NoError(t, err)
			all := make([]int, len(want.Names))
			for j := range all {
				all[j] = j
			}
			wald, err := f.WaldJoint(all, f.ModelCovariance())
			require.NoError(t, err)
			requireVector(t, []float64{want.Score, want.Wald}, []float64{score.Statistic, wald.Statistic}, 1e-6, "tests")
			require.True(t, almost(f.LikelihoodRatio().Statistic, 2*(want.LogLik[1]-want.LogLik[0]), 1e-8))
			if want.Cluster != nil {
				cov, err := f.ClusterCovariance(CR0, clusters)
				require.NoError(t, err)
				requireMatrix(t, want.Robust, cov.Matrix, 1e-6, "robust")
			}
			requireDrift(t, want, f)
			if want.BaseHaz != nil {
				requireBaseline(t, want, f)
			}
		})
	}
}

func requireDrift(t *testing.T, want coxFrame, f *CoxFit) {
	t.Helper()
	require.Len(t, want.ZPH, 3)
	for name, transform := range map[string]TimeTransform{"km": TransformKM, "identity": TransformIdentity, "log": TransformLog} {
		got, err := f.Proportionality(transform)
		require.NoError(t, err)
		tests := append(append([]JointTest{}, got.Columns...), got.Global)
		for i, test := range tests {
			about := []float64{test.Statistic, test.P}
			requireVector(t, []float64{want.ZPH[name].Chisq[i], want.ZPH[name].P[i]}, about, 1e-6, name)
		}
		if name != "km" || want.Points == nil {
			continue
		}
		require.Len(t, got.Points, len(want.Points.Time))
		for i, point := range got.Points {
			g, centre := want.Points.G[i], want.Points.G[0]-got.Points[0].Scaled
			requireVector(t, []float64{want.Points.Time[i], want.Points.First[i]}, []float64{point.Time, point.Coef[0]}, 1e-6, "residual")
			require.True(t, almost(point.Scaled, g-centre, 1e-10), "transform")
		}
	}
}

func requireBaseline(t *testing.T, want coxFrame, f *CoxFit) {
	t.Helper()
	got, err := f.BaselineHazard(make([]float64, len(want.Names)))
	require.NoError(t, err)
	require.Len(t, got, len(want.BaseHaz.Time))
	for i, h := range got {
		requireVector(t, []float64{want.BaseHaz.Time[i], want.BaseHaz.Hazard[i]}, []float64{h.Time, h.Cumulative}, 1e-6, "hazard")
	}
}

func TestCoxWaldAndNestedModels(t *testing.T) {
	want := loadCox(t)["lung"]
	p, rows, _ := want.collapse()
	full, err := FitCox(p, rows, CoxOptions{})
	require.NoError(t, err)
	e, err := full.Wald(1, full.ModelCovariance(), 0.95)
	require.NoError(t, err)
	se := math.Sqrt(want.Model[1][1])
	require.True(t, almost(e.Limits.Low, want.Coef[1]-1.959963984540054*se, 1e-6))
	short := CoxPatterns{Names: p.Names[:1], Offset: p.Offset, Stratum: p.Stratum}
	for j := range p.Offset {
		short.X = append(short.X, p.X[4*j])
	}
	nested, err := FitCox(short, rows, CoxOptions{})
	require.NoError(t, err)
	lr, err := CoxLikelihoodRatio(full, nested)
	require.NoError(t, err)
	require.True(t, almost(lr.Statistic, full.LikelihoodRatio().Statistic-nested.LikelihoodRatio().Statistic, 1e-8))
	require.EqualValues(t, 3, lr.DF)
	_, err = CoxLikelihoodRatio(nested, full)
	require.ErrorIs(t, err, ErrBadInput)
	_, err = CoxLikelihoodRatio(full, func() *CoxFit {
		b, err := FitCox(short, rows, CoxOptions{Breslow: true})
		require.NoError(t, err)
		return b
	}())
	require.ErrorIs(t, err, ErrBadInput)
}
