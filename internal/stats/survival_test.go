package stats

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

type refCounts struct{ Time, Events, Censored []float64 }

func (c refCounts) rows() []TimeCount {
	out := make([]TimeCount, len(c.Time))
	for i := range out {
		out[i] = TimeCount{c.Time[i], int64(c.Events[i]), int64(c.Censored[i])}
	}
	return out
}

type refCauses struct{ Time, First, Second, Censored []float64 }

func (c refCauses) rows() []CauseCount {
	out := make([]CauseCount, len(c.Time))
	for i := range out {
		out[i] = CauseCount{c.Time[i], []int64{int64(c.First[i]), int64(c.Second[i])}, int64(c.Censored[i])}
	}
	return out
}

type refCurve struct {
	Survival, SE, Hazard, Risk []float64
	HazardSE                   []float64 `json:"hazard_se"`
	Low, High                  []any
	Quantile                   []float64
	QuantileLow                []float64 `json:"quantile_low"`
	QuantileHigh               []float64 `json:"quantile_high"`
}

type refTest struct {
	Observed, Expected []float64
	Covariance         [][]float64
	Chisq              float64
}

type survivalReference struct {
	Lung               refCounts
	LungBySex          []refCounts `json:"lung_by_sex"`
	Veteran            [][]refCounts
	Times              []float64
	LogLog, Log, Plain refCurve
	Horizons, Rmean    []float64
	RmeanSE            []float64 `json:"rmean_se"`
	TestPlain          refTest   `json:"test_plain"`
	TestStrata         refTest   `json:"test_strata"`
	TestLung           refTest   `json:"test_lung"`
	TrendPlain         float64   `json:"trend_plain"`
	TrendStrata        float64   `json:"trend_strata"`
	Causes             refCauses
	At                 []float64
	Pstate, Cuminc     [][]float64
	PstateSE           [][]float64   `json:"pstate_se"`
	PstateLow          [][]any       `json:"pstate_low"`
	PstateHigh         [][]any       `json:"pstate_high"`
	CumincVar          [][]float64   `json:"cuminc_var"`
	BySex              []refCauses   `json:"by_sex"`
	BySexDecade        [][]refCauses `json:"by_sex_decade"`
	Gray, Gray4        []float64
	Gray4Strata        []float64 `json:"gray4_strata"`
}

func loadSurvival(t *testing.T) survivalReference {
	var ref survivalReference
	loadReference(t, "survival", &ref)
	require.NotEmpty(t, ref.Times)
	return ref
}

func requireRelative(t *testing.T, want, got float64, about ...any) {
	t.Helper()
	if !relative(got, want, 1e-9) {
		require.Failf(t, "differs", "got %.15g, want %.15g %v", got, want, about)
	}
}

func TestKaplanMeierAgreesWithR(t *testing.T) {
	ref := loadSurvival(t)
	curve, err := KaplanMeier(ref.Lung.rows())
	require.NoError(t, err)
	require.Equal(t, int64(165), curve.Events())
	for scale, want := range map[SurvivalScale]refCurve{LogLog: ref.LogLog, LogScale: ref.Log, PlainScale: ref.Plain} {
		risk := curve.AtRisk(ref.Times)
		for i, at := range ref.Times {
			p, warnings := curve.At(at)
			require.Empty(t, warnings)
			requireRelative(t, want.Survival[i], p.Survival, at)
			requireRelative(t, want.SE[i], p.SE(), at)
			requireRelative(t, want.Hazard[i], p.Hazard, at)
			requireRelative(t, want.HazardSE[i], math.Sqrt(p.HazardVariance), at)
			require.Equal(t, int64(want.Risk[i]), risk[i])
			low, exists := want.Low[i].(float64)
			iv, err := p.Limits(0.95, scale)
			require.NoError(t, err)
			if exists && p.Survival < 1 { // at 1 R has no limit or a limit without width
				requireRelative(t, low, iv.Low, at, scale)
				requireRelative(t, want.High[i].(float64), iv.High, at, scale)
			}
		}
		for i, share := range []float64{0.25, 0.5, 0.75} {
			q, iv, err := curve.Quantile(share, 0.95, scale)
			require.NoError(t, err)
			require.Equal(t, want.Quantile[i], q)
			require.Equal(t, Interval{want.QuantileLow[i], want.QuantileHigh[i]}, iv, "%v %v", scale, share)
		}
	}
	for i, h := range ref.Horizons {
		mean, se, err := curve.RestrictedMean(h)
		require.NoError(t, err)
		requireRelative(t, ref.Rmean[i], mean)
		requireRelative(t, ref.RmeanSE[i], se)
	}
}

func requireRankTest(t *testing.T, want refTest, got RankTest, err error) {
	t.Helper()
	require.NoError(t, err)
	requireRelative(t, want.Chisq, got.ChiSquare)
	require.Equal(t, len(want.Observed)-1, got.DF)
	for i := range want.Observed {
		requireRelative(t, want.Observed[i], got.Observed[i])
		requireRelative(t, want.Expected[i], got.Expected[i])
		for j := range want.Observed {
			requireRelative(t, want.Covariance[i][j], got.Covariance[i][j])
		}
	}
}

func TestLogRankAgreesWithR(t *testing.T) {
	ref := loadSurvival(t)
	strata, pooled := make([][][]TimeCount, 2), make([][]TimeCount, 4)
	for s, groups := range ref.Veteran {
		for g, c := range groups {
			strata[s] = append(strata[s], c.rows())
			pooled[g] = append(pooled[g], c.rows()...)
		}
	}
	got, err := LogRank([][][]TimeCount{pooled})
	requireRankTest(t, ref.TestPlain, got, err)
	got, err = LogRank(strata)
	requireRankTest(t, ref.TestStrata, got, err)
	got, err = LogRank([][][]TimeCount{{ref.LungBySex[0].rows(), ref.LungBySex[1].rows()}})
	requireRankTest(t, ref.TestLung, got, err)
	require.InDelta(t, 0.001311, got.P, 5e-7) // printed by survdiff
	got, err = LogRankTrend([][][]TimeCount{pooled}, []float64{1, 2, 3, 4})
	require.NoError(t, err)
	requireRelative(t, ref.TrendPlain, got.ChiSquare)
	got, err = LogRankTrend(strata, []float64{0, 1, 5, 2})
	require.NoError(t, err)
	requireRelative(t, ref.TrendStrata, got.ChiSquare)
}

func TestIncidencesAreThoseOfTheCurve(t *testing.T) {
	ref := loadSurvival(t)
	want, err := CumulativeIncidence(ref.Causes.rows())
	require.NoError(t, err)
	got, err := Incidences(ref.Causes.rows())
	require.NoError(t, err)
	require.Len(t, got.Points, len(want.Points))
	require.Equal(t, want.N, got.N)
	for i, p := range got.Points {
		w := want.Points[i]
		require.Equal(t, w.Incidence, p.Incidence) // to the last bit
		require.Equal(t, []float64{w.Time, w.Survival, float64(w.AtRisk)}, []float64{p.Time, p.Survival, float64(p.AtRisk)})
		for k := range p.Incidence {
			require.True(t, math.IsNaN(p.Variance[k]) && math.IsNaN(p.DeltaVariance[k]), "a variance that was not worked out is no number")
		}
	}
	_, err = Incidences(nil)
	require.ErrorIs(t, err, ErrNoData)
}

func TestCumulativeIncidenceAgreesWithR(t *testing.T) {
	ref := loadSurvival(t)
	curve, err := CumulativeIncidence(ref.Causes.rows())
	require.NoError(t, err)
	for i, at := range ref.At {
		p, _ := curve.At(at)
		for k := range 2 {
			requireRelative(t, ref.Pstate[i][k], p.Incidence[k], at, k)
			requireRelative(t, ref.PstateSE[i][k], math.Sqrt(p.Variance[k]), at, k)
			require.InDelta(t, ref.Cuminc[i][k], p.Incidence[k], 1e-12)
			if !relative(p.DeltaVariance[k], ref.CumincVar[i][k], 1e-9) {
				t.Errorf("variance of cmprsk at %g: got %.15g, want %.15g", at, p.DeltaVariance[k], ref.CumincVar[i][k])
			}
			iv, err := p.Limits(k, 0.95)
			require.NoError(t, err)
			if low, exists := ref.PstateLow[i][k].(float64); exists && p.Incidence[k] > 0 {
				requireRelative(t, low, iv.Low, at, k)
				requireRelative(t, ref.PstateHigh[i][k].(float64), iv.High, at, k)
			}
		}
	}
}

func TestGrayTestAgreesWithR(t *testing.T) {
	ref := loadSurvival(t)
	sexes := [][]CauseCount{ref.BySex[0].rows(), ref.BySex[1].rows()}
	strata, pooled := make([][][]CauseCount, 2), make([][]CauseCount, 4)
	for s, groups := range ref.BySexDecade {
		for g, c := range groups {
			strata[s] = append(strata[s], c.rows())
			pooled[g] = append(pooled[g], c.rows()...)
		}
	}
	for cause := range 2 {
		for _, c := range []struct {
			strata [][][]CauseCount
			want   float64
		}{{[][][]CauseCount{sexes}, ref.Gray[cause]}, {[][][]CauseCount{pooled}, ref.Gray4[cause]}, {strata, ref.Gray4Strata[cause]}} {
			got, err := GrayTest(c.strata, cause)
			require.NoError(t, err)
			requireRelative(t, c.want, got.ChiSquare, cause)
			require.Equal(t, len(c.strata[0])-1, got.DF)
		}
	}
}

// Remission times (weeks) of 21 patients on 6-MP, Freireich 1963, as worked in textbooks; the
// values are quoted from memory.
func TestKaplanMeierOfRemissionTimes(t *testing.T) {
	rows := []TimeCount{{6, 3, 1}, {7, 1, 0}, {9, 0, 1}, {10, 1, 1}, {11, 0, 1}, {13, 1, 0}, {16, 1, 0}, {17, 0, 1},
		{19, 0, 1}, {20, 0, 1}, {22, 1, 0}, {23, 1, 0}, {25, 0, 1}, {32, 0, 2}, {34, 0, 1}, {35, 0, 1}}
	curve, err := KaplanMeier(rows)
	require.NoError(t, err)
	for at, want := range map[float64]float64{6: .857, 7: .807, 10: .753, 13: .690, 16: .627, 22: .538, 23: .448} {
		p, _ := curve.At(at)
		require.InDelta(t, want, p.Survival, 6e-4)
	}
	p, _ := curve.At(6)
	require.InDelta(t, 0.0764, p.SE(), 5.1e-5)
	median, _, err := curve.Quantile(0.5, 0.95, LogLog)
	require.NoError(t, err)
	require.Equal(t, 23.0, median)
	require.Equal(t, 35.0, curve.End())
	_, warnings := curve.At(36)
	require.Len(t, warnings, 1)
	_, _, err = curve.RestrictedMean(36)
	require.ErrorIs(t, err, ErrBadInput)
}

func drawCauses(t *rapid.T, label string, atLeast int) []CauseCount {
	return rapid.SliceOfN(rapid.Custom(func(t *rapid.T) CauseCount {
		n := rapid.Int64Range(0, 4)
		return CauseCount{float64(rapid.IntRange(0, 12).Draw(t, "time")),
			[]int64{n.Draw(t, "a"), n.Draw(t, "b")}, 1 + n.Draw(t, "censored")}
	}), atLeast, 15).Draw(t, label)
}

func TestIncidenceProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rows := drawCauses(t, "rows", 1)
		base, err := CumulativeIncidence(rows)
		if err != nil {
			t.Fatal(err)
		}
		other, err := CumulativeIncidence(splitCauses(rapid.Permutation(rows).Draw(t, "order")))
		if err != nil {
			t.Fatal(err)
		}
		var single []TimeCount
		for _, r := range rows {
			single = append(single, TimeCount{r.Time, sumCounts(r.Events), r.Censored})
		}
		km, err := KaplanMeier(single)
		if err != nil {
			t.Fatal(err)
		}
		for i, p := range base.Points {
			slow := slowIncidenceVariance(rows, p.Time, 0)
			if !almost(p.Variance[0], slow, 1e-7) {
				t.Fatalf("jackknife variance %g, by numerical derivative %g", p.Variance[0], slow)
			}
			q := other.Points[i]
			sum := p.Survival + p.Incidence[0] + p.Incidence[1]
			if !almost(sum, 1, 1e-12) || !almost(km.Points[i].Survival, p.Survival, 1e-12) ||
				q.Incidence[0] != p.Incidence[0] || q.Variance[1] != p.Variance[1] {
				t.Fatalf("at %g: sum %g, %v against %v", p.Time, sum, p, q)
			}
			for k := range 2 {
				iv, err := p.Limits(k, 0.95)
				if err != nil || iv.Low > p.Incidence[k]+1e-15 || iv.High < p.Incidence[k]-1e-15 {
					t.Fatalf("limits %v of %g: %v", iv, p.Incidence[k], err)
				}
			}
		}
	})
}

// splitCauses gives every unit a row of its own.
func splitCauses(rows []CauseCount) []CauseCount {
	var out []CauseCount
	for _, r := range rows {
		for range r.Censored {
			out = append(out, CauseCount{r.Time, []int64{0, 0}, 1})
		}
		for k, n := range r.Events {
			for range n {
				one := []int64{0, 0}
				one[k] = 1
				out = append(out, CauseCount{r.Time, one, 0})
			}
		}
	}
	return out
}

// slowIncidenceVariance squares and adds the numerical derivatives of the estimate by
// each unit's weight: plainly the infinitesimal jackknife.
func slowIncidenceVariance(rows []CauseCount, at float64, cause int) float64 {
	units := splitCauses(rows)
	weights := make([]float64, len(units))
	for i := range weights {
		weights[i] = 1
	}
	estimate := func() float64 {
		survival, incidence := 1.0, 0.0
		for day := 0.0; day <= at; day++ {
			risk, all, own := 0.0, 0.0, 0.0
			for i, u := range units {
				if u.Time >= day {
					risk += weights[i]
				}
				if u.Time == day {
					all += weights[i] * float64(sumCounts(u.Events))
					own += weights[i] * float64(u.Events[cause])
				}
			}
			if risk > 0 {
				incidence += survival * own / risk
				survival *= (risk - all) / risk
			}
		}
		return incidence
	}
	sum := 0.0
	for i := range units {
		const step = 1e-5
		weights[i] = 1 + step
		up := estimate()
		weights[i] = 1 - step
		slope := (up - estimate()) / (2 * step)
		weights[i] = 1
		sum += slope * slope
	}
	return sum
}

func TestSurvivalLimitsContainTheEstimate(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var rows []TimeCount
		for _, r := range drawCauses(t, "rows", 1) {
			rows = append(rows, TimeCount{r.Time, r.Events[0], r.Censored})
		}
		curve, err := KaplanMeier(rows)
		if err != nil {
			t.Fatal(err)
		}
		for _, p := range curve.Points {
			for _, scale := range []SurvivalScale{LogLog, LogScale, PlainScale} {
				iv, err := p.Limits(0.95, scale)
				if err != nil || !(0 <= iv.Low && iv.Low <= p.Survival && p.Survival <= iv.High && iv.High <= 1) {
					t.Fatalf("%v of %v: %v", iv, p, err)
				}
			}
		}
		if curve.End() > 0 {
			mean, se, err := curve.RestrictedMean(curve.End())
			if err != nil || !(mean >= 0 && mean <= curve.End()) || !(se >= 0) {
				t.Fatalf("restricted mean %g (%g): %v", mean, se, err)
			}
		}
	})
}

func TestSurvivalRefusesHostileInput(t *testing.T) {
	for _, rows := range [][]TimeCount{nil, {}, {{1, 0, 0}}} {
		_, err := KaplanMeier(rows)
		require.ErrorIs(t, err, ErrNoData)
	}
	for _, bad := range []TimeCount{{math.NaN(), 1, 0}, {math.Inf(1), 1, 0}, {-1, 1, 0}, {1, -1, 0}, {1, 0, -1}, {1, math.MaxInt64, math.MaxInt64}} {
		_, err := KaplanMeier([]TimeCount{{2, 1, 1}, bad})
		require.ErrorIs(t, err, ErrBadInput, "%v", bad)
	}
	_, err := CumulativeIncidence([]CauseCount{{1, []int64{1, 2}, 0}, {2, []int64{1}, 0}})
	require.ErrorIs(t, err, ErrBadInput)
	one := []TimeCount{{1, 1, 0}}
	_, err = LogRank([][][]TimeCount{{one, nil}})
	require.ErrorIs(t, err, ErrNoData)
	_, err = LogRank([][][]TimeCount{{{{1, 0, 5}}, {{1, 0, 5}}}})
	require.ErrorIs(t, err, ErrNoData)
	_, err = LogRank([][][]TimeCount{{one}})
	require.ErrorIs(t, err, ErrBadInput)
	_, err = LogRankTrend([][][]TimeCount{{one, one}}, []float64{1, math.NaN()})
	require.ErrorIs(t, err, ErrBadInput)
	_, err = GrayTest([][][]CauseCount{{{{1, []int64{0, 1}, 1}}, {{2, []int64{0, 1}, 1}}}}, 0)
	require.ErrorIs(t, err, ErrNoData)

	all, err := KaplanMeier([]TimeCount{{5, 1 << 50, 0}})
	require.NoError(t, err)
	p, _ := all.At(5)
	require.Zero(t, p.Survival)
	iv, err := p.Limits(0.95, LogLog)
	require.NoError(t, err)
	require.Zero(t, iv.Low)
	mean, se, err := all.RestrictedMean(5)
	require.NoError(t, err)
	require.Equal(t, 5.0, mean)
	require.Zero(t, se)
	none, err := KaplanMeier([]TimeCount{{5, 0, 10}})
	require.NoError(t, err)
	p, _ = none.At(5)
	iv, err = p.Limits(0.95, LogLog)
	require.NoError(t, err)
	exact, err := ClopperPearson(10, 10, 0.95)
	require.NoError(t, err)
	sameInterval(t, exact, iv, 1e-12, "no event")
	none, err = KaplanMeier([]TimeCount{{5, 0, 2}})
	require.NoError(t, err)
	median, limits, err := none.Quantile(0.5, 0.95, LogLog)
	require.NoError(t, err)
	require.True(t, math.IsInf(median, 1) && math.IsInf(limits.Low, 1) && math.IsInf(limits.High, 1))
	_, limits, err = all.Quantile(0.5, 0.95, LogLog)
	require.NoError(t, err)
	require.Equal(t, Interval{5, 5}, limits)
}
