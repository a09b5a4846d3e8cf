package stats

import (
	"encoding/json"
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// repeatsFrame is one data set of measure_repeats.R.
type repeatsFrame struct {
	Groups          []oneOrMore
	SS, DF          []float64
	Squares, Cubes  float64
	SD, Coefficient float64
	SDLow           float64 `json:"sd_low"`
	SDHigh          float64 `json:"sd_high"`
	ICC, ICC3       []float64
	ICCLow          float64 `json:"icc_low"`
	ICCHigh         float64 `json:"icc_high"`
	F               float64
}

// oneOrMore reads a vector that R's JSON writes as a bare number when it has length 1.
type oneOrMore []float64

func (v *oneOrMore) UnmarshalJSON(raw []byte) error {
	if raw[0] != '[' {
		raw = append(append([]byte{'['}, raw...), ']')
	}
	return json.Unmarshal(raw, (*[]float64)(v))
}

type measureReference struct {
	Flow, Judges, Uneven repeatsFrame
	Components           []float64
	Agreement            struct {
		Differences, EpiR   []float64
		Bias, SD            float64
		BiasLimits          []float64 `json:"bias_limits"`
		Lower, Upper, Reach float64
	}
}

func loadMeasure(t *testing.T) measureReference {
	t.Helper()
	var ref measureReference
	loadReference(t, "measure_repeats", &ref)
	return ref
}

func (f repeatsFrame) collect(t *testing.T) Repeats {
	t.Helper()
	var groups [][]float64
	for _, g := range f.Groups {
		groups = append(groups, g)
	}
	r, err := CollectRepeats(groups)
	require.NoError(t, err)
	return r
}

// Reference: R anova, lme4 and traces of quadratic forms, measure_repeats.R.
func TestRepeatsAgreeWithR(t *testing.T) {
	ref := loadMeasure(t)
	for name, f := range map[string]repeatsFrame{"flow": ref.Flow, "judges": ref.Judges, "uneven": ref.Uneven} {
		r := f.collect(t)
		requireVector(t, []float64{f.SS[0], f.SS[1], f.DF[0], f.DF[1], f.Squares, f.Cubes},
			[]float64{r.Between, r.Within, r.dfBetween(), r.dfWithin(), r.Squares, r.Cubes}, 1e-10, name)
		s, err := WithinSD(r, 0.95)
		require.NoError(t, err)
		requireVector(t, []float64{f.SD, f.SDLow, f.SDHigh, f.Coefficient}, []float64{s.SD, s.SDLimits.Low, s.SDLimits.High, s.Coefficient}, 1e-9, name)
		icc, err := r.ICC(0.95)
		require.NoError(t, err)
		requireVector(t, []float64{f.ICC[0], f.ICCLow, f.ICCHigh, f.F}, []float64{icc.Value, icc.Limits.Low, icc.Limits.High, icc.F}, 1e-8, name+" icc")
		three, err := r.Reliability(3)
		require.NoError(t, err)
		// The script takes derivatives by differences, good to about 1e-8.
		requireVector(t, []float64{f.ICC[1], f.ICC3[0], f.ICC3[1]}, []float64{icc.SE, three.Value, three.SE}, 1e-6, name+" se")
		require.Equal(t, name == "uneven", len(icc.Warnings) == 1, name)
	}
	r, err := ref.Flow.collect(t).Reliability(1)
	require.NoError(t, err)
	requireVector(t, ref.Components, []float64{r.Between, r.Within}, 1e-6, "lme4")
}

// Printed values, from memory of the papers: Bland & Altman 1996, residual mean square
// 460.52 and Sw 21.5 l/min; Shrout & Fleiss 1979, ICC(1,1) .17; Bland & Altman 1986,
// mean difference -2.1, SD 38.8, limits of agreement -79.7 and 75.5 (with 2 SD, not 1.96),
// limits of the mean -22.0 and 17.8, and 40.9 to 110.1 about the upper one (with the
// older variance 3 SD^2/n).
func TestMeasurementAgreesWithPrintedValues(t *testing.T) {
	ref := loadMeasure(t)
	s, err := WithinSD(ref.Flow.collect(t), 0.95)
	require.NoError(t, err)
	require.InDelta(t, 460.52, s.SD*s.SD, 0.005)
	require.InDelta(t, 21.5, s.SD, 0.05)
	require.InDelta(t, 2.77*s.SD, s.Coefficient, 0.002*s.SD)
	icc, err := ref.Judges.collect(t).ICC(0.95)
	require.NoError(t, err)
	require.InDelta(t, 0.17, icc.Value, 0.005)
	a, err := AgreementLimits(17, -2.1, 38.8, 0.95)
	require.NoError(t, err)
	require.InDelta(t, -22.0, a.BiasLimits.Low, 0.1)
	require.InDelta(t, 17.8, a.BiasLimits.High, 0.1)
	require.InDelta(t, -79.7, a.Lower, 0.05*38.8)
	require.InDelta(t, 110.1-75.5, a.UpperLimits.High-a.Upper, 0.5)
}

func TestAgreementLimitsAgreeWithR(t *testing.T) {
	ref := loadMeasure(t).Agreement
	mean, squares := meanAndSquares(ref.Differences)
	n := int64(len(ref.Differences))
	a, err := AgreementLimits(n, mean, math.Sqrt(squares/float64(n-1)), 0.95)
	require.NoError(t, err)
	requireVector(t, ref.EpiR, []float64{a.Bias, a.SD, a.Lower, a.Upper}, 1e-10, "epi.ccc")
	requireVector(t, []float64{ref.BiasLimits[0], ref.BiasLimits[1], ref.Lower - ref.Reach, ref.Lower + ref.Reach, ref.Upper - ref.Reach, ref.Upper + ref.Reach},
		[]float64{a.BiasLimits.Low, a.BiasLimits.High, a.LowerLimits.Low, a.LowerLimits.High, a.UpperLimits.Low, a.UpperLimits.High}, 1e-9, "limits")
	require.Len(t, a.Warnings, 1)
}

func drawReadings(t *rapid.T) [][]float64 {
	return rapid.SliceOfN(rapid.SliceOfN(rapid.Float64Range(-50, 50), 0, 5), 2, 12).Draw(t, "readings")
}

// slowSums computes the sums of squares from their definition, in two passes.
func slowSums(groups [][]float64) (between, within float64) {
	mean := func(x []float64) float64 {
		s := 0.0
		for _, v := range x {
			s += v
		}
		return s / float64(len(x))
	}
	var all []float64
	for _, g := range groups {
		all = append(all, g...)
	}
	for _, g := range groups {
		for _, v := range g {
			within += math.Pow(v-mean(g), 2)
			between += math.Pow(mean(g)-mean(all), 2)
		}
	}
	return between, within
}

func TestRepeatsProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		groups := drawReadings(t)
		r, err := CollectRepeats(groups)
		if err != nil {
			return
		}
		between, within := slowSums(groups)
		if !almost(r.Between, between, 1e-9) || !almost(r.Within, within, 1e-9) {
			t.Fatalf("sums %g %g, slowly %g %g", r.Between, r.Within, between, within)
		}
		moved := make([][]float64, len(groups))
		for i, g := range groups {
			for j := range g {
				moved[len(groups)-1-i] = append(moved[len(groups)-1-i], 7-3*g[len(g)-1-j])
			}
		}
		m, err := CollectRepeats(moved)
		if err != nil || !almost(m.Within, 9*r.Within, 1e-8) || !almost(m.Between, 9*r.Between, 1e-8) {
			t.Fatalf("moving, scaling and reordering: %v became %v (%v)", r, m, err)
		}
		s, err := WithinSD(r, 0.9)
		if err == nil && !(s.SDLimits.Low <= s.SD && s.SD <= s.SDLimits.High) {
			t.Fatalf("SD %v", s)
		}
		icc, err := r.ICC(0.9)
		if err == nil && !(icc.Limits.Low <= icc.Value+1e-12 && icc.Value <= icc.Limits.High+1e-12 && icc.SE >= 0) {
			t.Fatalf("ICC %v", icc)
		}
	})
}

func TestMeasurementRefusesHostileInput(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	collect := func(groups ...[]float64) Repeats {
		r, err := CollectRepeats(groups)
		require.NoError(t, err)
		return r
	}
	_, err := CollectRepeats([][]float64{nil, {}})
	require.ErrorIs(t, err, ErrNoData)
	for _, v := range []float64{nan, inf} {
		_, err = CollectRepeats([][]float64{{1, v}})
		require.ErrorIs(t, err, ErrBadInput)
	}
	for want, r := range map[error][]Repeats{
		ErrNoData:   {{}, collect([]float64{1}), collect([]float64{1}, []float64{2})},
		ErrBadInput: {{Subjects: 2, Readings: 4, Squares: 8, Cubes: 16, Within: nan}, {Subjects: 2, Readings: 4, Squares: 99, Cubes: 16}, {Subjects: 2, Readings: 4, Squares: 8, Cubes: 1}, {Subjects: 5, Readings: 4}},
	} {
		for _, bad := range r {
			_, err = WithinSD(bad, 0.95)
			require.ErrorIs(t, err, want, "%v", bad)
			_, err = bad.ICC(0.95)
			require.ErrorIs(t, err, want, "%v", bad)
		}
	}
	_, err = collect([]float64{1, 2}).ICC(0.95)
	require.ErrorIs(t, err, ErrNoData)
	_, err = collect([]float64{3, 3}, []float64{3, 3}).ICC(0.95)
	require.ErrorIs(t, err, ErrNoAnswer)
	same := collect([]float64{1, 1}, []float64{2, 2})
	icc, err := same.ICC(0.95)
	require.NoError(t, err)
	require.Equal(t, Interval{1, 1}, icc.Limits)
	s, err := WithinSD(same, 0.95)
	require.NoError(t, err)
	require.Equal(t, "repeats-identical", s.Warnings[0].Code)
	for _, bad := range [][2]float64{{nan, 1}, {1, -1}, {inf, 1}, {0, nan}} {
		_, err = AgreementLimits(10, bad[0], bad[1], 0.95)
		require.ErrorIs(t, err, ErrBadInput)
	}
	_, err = AgreementLimits(1, 0, 1, 0.95)
	require.ErrorIs(t, err, ErrNoData)
	_, err = AgreementLimits(10, 0, 1, nan)
	require.ErrorIs(t, err, ErrBadInput)
}
