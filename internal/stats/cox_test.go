package stats

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
)

// errorIsDataFault is true for the errors by which the package refuses data.
func errorIsDataFault(err error) bool {
	return errors.Is(err, ErrNoData) || errors.Is(err, ErrBadInput) || errors.Is(err, ErrNoConvergence)
}

func oneColumn(x ...float64) CoxPatterns { return CoxPatterns{Names: []string{"x"}, X: x} }

func TestCoxHostileInput(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	good := []CoxRow{{0, 0, 1, true, 1}, {1, 0, 2, true, 1}, {0, 0, 3, false, 1}}
	for what, c := range map[string]struct {
		p    CoxPatterns
		rows []CoxRow
		opt  CoxOptions
		want error
	}{
		"no rows":            {oneColumn(0, 1), nil, CoxOptions{}, ErrNoData},
		"no patterns":        {oneColumn(), good, CoxOptions{}, ErrNoData},
		"no columns":         {CoxPatterns{}, good, CoxOptions{}, ErrNoData},
		"all censored":       {oneColumn(0, 1), []CoxRow{{0, 0, 1, false, 5}, {1, 0, 2, false, 5}}, CoxOptions{}, ErrNoData},
		"counts of zero":     {oneColumn(0, 1), []CoxRow{{0, 0, 1, true, 0}}, CoxOptions{}, ErrNoData},
		"NaN column":         {oneColumn(0, nan), good, CoxOptions{}, ErrBadInput},
		"infinite column":    {oneColumn(0, inf), good, CoxOptions{}, ErrBadInput},
		"NaN time":           {oneColumn(0, 1), []CoxRow{{0, 0, nan, true, 1}}, CoxOptions{}, ErrBadInput},
		"infinite time":      {oneColumn(0, 1), []CoxRow{{0, 0, inf, true, 1}}, CoxOptions{}, ErrBadInput},
		"NaN count":          {oneColumn(0, 1), []CoxRow{{0, 0, 1, true, nan}}, CoxOptions{}, ErrBadInput},
		"half a count":       {oneColumn(0, 1), []CoxRow{{0, 0, 1, true, 0.5}}, CoxOptions{}, ErrBadInput},
		"negative count":     {oneColumn(0, 1), []CoxRow{{0, 0, 1, true, -1}}, CoxOptions{}, ErrBadInput},
		"unknown pattern":    {oneColumn(0, 1), []CoxRow{{2, 0, 1, true, 1}}, CoxOptions{}, ErrBadInput},
		"negative pattern":   {oneColumn(0, 1), []CoxRow{{-1, 0, 1, true, 1}}, CoxOptions{}, ErrBadInput},
		"entry at exit":      {oneColumn(0, 1), []CoxRow{{0, 1, 1, true, 1}}, CoxOptions{LeftTruncated: true}, ErrBadInput},
		"NaN entry":          {oneColumn(0, 1), []CoxRow{{0, nan, 1, true, 1}}, CoxOptions{LeftTruncated: true}, ErrBadInput},
		"constant column":    {oneColumn(7, 7), good, CoxOptions{}, ErrBadInput},
		"constant in strata": {CoxPatterns{Names: []string{"x"}, X: []float64{0, 1}, Stratum: []int{1, 2}}, good, CoxOptions{}, ErrBadInput},
		"offset NaN":         {CoxPatterns{Names: []string{"x"}, X: []float64{0, 1}, Offset: []float64{0, nan}}, good, CoxOptions{}, ErrBadInput},
		"offset too long":    {CoxPatterns{Names: []string{"x"}, X: []float64{0, 1}, Offset: []float64{0}}, good, CoxOptions{}, ErrBadInput},
		"offsets far apart":  {CoxPatterns{Names: []string{"x"}, X: []float64{0, 1}, Offset: []float64{0, 2000}}, []CoxRow{{1, 0, 1, true, 1}, {0, 0, 2, true, 1}}, CoxOptions{}, ErrBadInput},
		// Each has the event with nobody else at risk: the likelihood is flat.
		"alone at risk": {oneColumn(0, 1), []CoxRow{{0, 0, 1, true, 1}, {1, 1, 2, true, 1}}, CoxOptions{LeftTruncated: true}, ErrBadInput},
	} {
		_, err := FitCox(c.p, c.rows, c.opt)
		require.ErrorIs(t, err, c.want, what)
	}
}

// With every event tied and Breslow's ties the likelihood is that of d draws from
// one risk set; with x in {0,1} the estimate has a closed form.
func TestCoxAllTied(t *testing.T) {
	// 3 of 10 with x = 1 and 2 of 20 with x = 0: exp(b) = (3/2) / (10/20) = 3.
	rows := []CoxRow{{1, 0, 4, true, 3}, {1, 0, 4, false, 7}, {0, 0, 4, true, 2}, {0, 0, 4, false, 18}}
	f, err := FitCox(oneColumn(0, 1), rows, CoxOptions{Breslow: true})
	require.NoError(t, err)
	require.True(t, almost(f.Coef[0], math.Log(3), 1e-9))
	_, err = f.Proportionality(TransformKM)
	require.ErrorIs(t, err, ErrNoData)
}

func TestCoxAliasedColumnsAreNamed(t *testing.T) {
	p := CoxPatterns{Names: []string{"a", "copy", "one", "late", "b"}}
	for _, v := range [][2]float64{{0, 0}, {1, 0}, {0, 1}, {1, 1}} {
		p.X = append(p.X, v[0], 3-2*v[0], 1, 0, v[1])
	}
	// A column that varies only among people who come after the last event.
	p.X = append(p.X, 0, 3, 1, 1, 0)
	rows := []CoxRow{{0, 0, 1, true, 2}, {1, 0, 2, true, 3}, {2, 0, 2, true, 1}, {3, 0, 3, true, 4}, {0, 0, 4, true, 1}, {2, 0, 4, true, 2}, {3, 0, 5, false, 2}, {4, 6, 7, false, 9}}
	f, err := FitCox(p, rows, CoxOptions{LeftTruncated: true})
	require.NoError(t, err)
	require.Equal(t, []string{"copy", "one", "late"}, f.Aliased)
	require.Equal(t, "aliased", f.Warnings[0].Code)
	require.True(t, math.IsNaN(f.Coef[1]) && !math.IsNaN(f.Coef[0]) && !math.IsNaN(f.Coef[4]))
	e, err := f.Wald(1, f.ModelCovariance(), 0.95)
	require.NoError(t, err)
	require.True(t, math.IsInf(e.SE, 1) && math.IsNaN(e.P))
	z, err := f.Proportionality(TransformIdentity)
	require.NoError(t, err)
	require.True(t, math.IsNaN(z.Columns[1].P) && !math.IsNaN(z.Columns[4].P))
	require.Equal(t, 2.0, z.Global.DF)
	// Without the aliased columns the fit is the same.
	small := CoxPatterns{Names: []string{"a", "b"}}
	for i := 0; i < len(p.X); i += 5 {
		small.X = append(small.X, p.X[i], p.X[i+4])
	}
	g, err := FitCox(small, rows, CoxOptions{LeftTruncated: true})
	require.NoError(t, err)
	require.True(t, almost(f.Coef[4], g.Coef[1], 1e-9) && almost(f.LogLik, g.LogLik, 1e-12))
}

// Nobody in band b has the event, so its log hazard ratio is minus infinity; the
// other column must come out as if band b were left out of the comparison of risks.
func TestCoxMonotoneLikelihoodIsNamed(t *testing.T) {
	rng := rand.New(rand.NewPCG(2, 9))
	p := CoxPatterns{Names: []string{"a", "b"}, X: []float64{0, 0, 1, 0, 0, 1, 1, 1}}
	var rows, without []CoxRow
	for i := range 200 {
		r := CoxRow{i % 4, 0, float64(1 + rng.IntN(30)), rng.IntN(3) == 0 && i%4 < 2, 1}
		rows = append(rows, r)
		if i%4 < 2 {
			without = append(without, r)
		}
	}
	f, err := FitCox(p, rows, CoxOptions{})
	require.NoError(t, err)
	require.Equal(t, []string{"b"}, f.Monotone)
	require.Equal(t, "monotone likelihood", f.Warnings[0].Code)
	require.Less(t, f.Coef[1], -10.0)
	e, err := f.Wald(1, f.ModelCovariance(), 0.95)
	require.NoError(t, err)
	require.Equal(t, Interval{math.Inf(-1), math.Inf(1)}, e.Limits)
	_, err = f.WaldJoint([]int{0, 1}, f.ModelCovariance())
	require.ErrorIs(t, err, ErrBadInput)
	g, err := FitCox(oneColumn(0, 1, 0, 1), without, CoxOptions{})
	require.NoError(t, err)
	require.True(t, almost(f.Coef[0], g.Coef[0], 1e-6), "%g %g", f.Coef[0], g.Coef[0])
	require.True(t, almost(f.ModelCovariance().Matrix.At(0, 0), g.ModelCovariance().Matrix.At(0, 0), 1e-6))
	require.Less(t, f.LikelihoodRatio().P, 1e-6)
	z, err := f.Proportionality(TransformKM)
	if err == nil {
		require.Equal(t, "shaky", z.Warnings[0].Code)
	} else {
		require.ErrorIs(t, err, ErrNoData)
	}
}

func TestCoxClusterHostile(t *testing.T) {
	rows := []CoxRow{{0, 0, 1, true, 2}, {1, 0, 2, true, 2}, {0, 0, 3, true, 2}, {1, 0, 3, false, 2}}
	f, err := FitCox(oneColumn(0, 1), rows, CoxOptions{})
	require.NoError(t, err)
	whole := []Composition{{[]Member{{0, 1}, {1, 1}}, 2}, {[]Member{{2, 1}, {3, 1}}, 2}}
	a, err := f.ClusterCovariance(CR0, whole)
	require.NoError(t, err)
	require.Equal(t, "few-clusters", a.Warnings[0].Code)
	require.Equal(t, 3.0, a.DF)
	b, err := f.ClusterCovariance(CR1, whole)
	require.NoError(t, err)
	require.True(t, almost(b.Matrix.At(0, 0), 4.0/3*a.Matrix.At(0, 0), 1e-12))
	for _, bad := range [][]Composition{nil, whole[:1], {{[]Member{{7, 1}}, 1}}, {{[]Member{{0, 1}}, math.NaN()}}} {
		_, err := f.ClusterCovariance(CR0, bad)
		require.True(t, errorIsDataFault(err), "%v", err)
	}
	_, err = f.ClusterCovariance(CR2, whole)
	require.ErrorIs(t, err, ErrBadInput)
	_, err = f.BaselineHazard([]float64{0, 1})
	require.ErrorIs(t, err, ErrBadInput)
	_, err = f.BaselineHazard([]float64{math.NaN()})
	require.ErrorIs(t, err, ErrBadInput)
	_, err = f.Proportionality(9)
	require.ErrorIs(t, err, ErrBadInput)
	zero := append([]CoxRow{{0, 0, 0, true, 1}}, rows...)
	g, err := FitCox(oneColumn(0, 1), zero, CoxOptions{})
	require.NoError(t, err)
	_, err = g.Proportionality(TransformLog)
	require.ErrorIs(t, err, ErrBadInput)
}

// Far from the origin (a calendar time in seconds) nothing is lost by centring.
func TestCoxFarFromTheOrigin(t *testing.T) {
	want := loadCox(t)["lung"]
	p, rows, _ := want.collapse()
	for j := range p.Offset {
		p.X[4*j] = 1.7e9 + p.X[4*j]
	}
	f, err := FitCox(p, rows, CoxOptions{})
	require.NoError(t, err)
	requireVector(t, want.Coef, f.Coef, 1e-6, "coef")
}
