package review

import (
	"context"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"afterfit/internal/bundle"
	"afterfit/internal/store"
)

// realData is testdata/reference/review_real.json: open data sets of R's package
// survival cast as bundles by review_real.R, with what R makes of them.
type realData struct {
	CGD struct {
		Files                 map[string]string
		N, Events             int64
		All, Placebo, Treated [3]float64
		Free                  struct {
			Day              []int64
			Share, Low, High []float64
		}
		Within struct {
			LogRatio float64 `json:"log_ratio"`
			SE       float64 `json:"se_hc0"`
		} `json:"within_hospital"`
	}
	MGUS2 struct {
		Files             map[string]string
		All, Upper, Lower incidences
	}
	Diabetic struct {
		Files            map[string]string
		All, Left, Right struct {
			N, Events        int64
			Value, Low, High float64
		}
	}
}

type incidences struct {
	N                int64
	Day              []int64
	Value, Low, High []float64
}

func readRealData(t *testing.T) realData {
	t.Helper()
	raw, err := os.ReadFile("../../testdata/reference/review_real.json")
	require.NoError(t, err)
	var d realData
	require.NoError(t, json.Unmarshal(raw, &d))
	return d
}

// loadedFiles loads a bundle that is given as the text of its files; a table that is
// not among them is there without rows.
func loadedFiles(t *testing.T, files map[string]string) *store.Store {
	t.Helper()
	dir := t.TempDir()
	for _, table := range bundle.Tables {
		name := table.Name + ".csv"
		text, ok := files[name]
		if !ok {
			text = strings.Join(table.Names(), ",")
		}
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), []byte(text+"\n"), 0o600))
	}
	clearKeys(t, dir)
	return loaded(t, 0, dir)
}

// clearKeys clears the patient keys of a bundle that are a data set's own numbers.
func clearKeys(t *testing.T, dir string) {
	t.Helper()
	note := "[[cleared]]\ntable = \"cases\"\ncolumn = \"patient_key\"\nkind = \"chart_number\"\nreason = \"the running numbers of a published or invented data set\"\n"
	require.NoError(t, os.WriteFile(filepath.Join(dir, "bundle.toml"), []byte(note), 0o600))
}

func requireEstimate(t *testing.T, want [3]float64, got Estimate, about string) {
	t.Helper()
	requireNear(t, 100*want[0], got.Value, about)
	requireNear(t, 100*want[1], got.Low, about+", lower limit")
	requireNear(t, 100*want[2], got.High, about+", upper limit")
}

// TestRecurrentInfectionsAgreeWithR takes survival::cgd from CSV files to the figures:
// R's robust cumulative hazard of recurrent events, and Kaplan-Meier to the first one.
func TestRecurrentInfectionsAgreeWithR(t *testing.T) {
	want := readRealData(t).CGD
	st := loadedFiles(t, want.Files)
	s := DefaultSettings()
	s.AdjustmentDays = 365
	f, err := Run(context.Background(), st, s, Header{})
	require.NoError(t, err)
	all := f.Headlines[0]
	require.Equal(t, Adjustments, all.Outcome)
	assert.Equal(t, want.N, all.Overall.N)
	assert.Equal(t, want.Events, all.Overall.Events)
	requireEstimate(t, want.All, all.Overall, "all")
	band := bandValues(t, f, "clearance", Adjustments)
	requireEstimate(t, want.Placebo, band["bulky"], "placebo")
	requireEstimate(t, want.Treated, band["within"], "treated")
	requireSteps(t, curveOf(t, f, "first_adjustment", "all"), incidences{Day: want.Free.Day, Value: want.Free.Share, Low: want.Free.Low, High: want.Free.High})
}

// TestWithinHospitalsAgreesWithR sets the comparison within clinicians, here placebo
// and treatment within hospitals, beside R's Poisson regression with a term for each
// hospital and the share of the expected infections as exposure. R's robust standard
// error lacks the factors for few patients and many levels, which stand apart here.
func TestWithinHospitalsAgreesWithR(t *testing.T) {
	ctx := context.Background()
	want := readRealData(t).CGD
	s := DefaultSettings()
	s.AdjustmentDays = 365
	q, err := newAsker(ctx, loadedFiles(t, want.Files), s)
	require.NoError(t, err)
	defer q.c.Close()
	d, err := q.dentures(ctx)
	require.NoError(t, err)
	f := newPairFit("h_clearance_over_2", Adjustments, nil)
	require.NoError(t, q.fitPairs(ctx, []*pairFit{f}, newPairBasis(d, 0)))
	require.True(t, f.within.ok)
	requireNear(t, want.Within.LogRatio, Num(f.within.log), "log ratio")
	requireNear(t, want.Within.SE, Num(math.Sqrt(f.within.score)/f.within.info), "standard error")
	// The interval shown adds the factor, and is no narrower than counts of a Poisson law allow.
	// Patients and dentures are the same here; 13 hospitals and the ratio are estimated.
	g := float64(f.patients)
	se := math.Max(want.Within.SE*math.Sqrt(g/(g-1)*(g-1)/(g-14)), 1/math.Sqrt(f.within.info))
	r := q.comparison(&f.within, withinMethod).Ratio
	requireNear(t, math.Exp(want.Within.LogRatio), r.Value, "ratio")
	requireNear(t, math.Exp(want.Within.LogRatio-1.959963984540054*se), r.Low, "lower limit")
	requireNear(t, math.Exp(want.Within.LogRatio+1.959963984540054*se), r.High, "upper limit")
}

// TestProgressionWithDeathAgreesWithR takes survival::mgus2 from CSV files to the
// cumulative incidence with death competing.
func TestProgressionWithDeathAgreesWithR(t *testing.T) {
	want := readRealData(t).MGUS2
	f, err := Run(context.Background(), loadedFiles(t, want.Files), DefaultSettings(), Header{})
	require.NoError(t, err)
	for group, w := range map[string]incidences{"all": want.All, "upper": want.Upper, "lower": want.Lower} {
		c := curveOf(t, f, Remake, group)
		assert.Equal(t, w.N, c.N, group)
		requireSteps(t, c, w)
	}
}

// TestTwoEyesAgreeWithR takes survival::diabetic, two units of one person, to the
// incidence at the end of the window with limits robust for the person.
func TestTwoEyesAgreeWithR(t *testing.T) {
	want := readRealData(t).Diabetic
	f, err := Run(context.Background(), loadedFiles(t, want.Files), DefaultSettings(), Header{})
	require.NoError(t, err)
	got := map[string]Estimate{}
	for _, h := range f.Headlines {
		if h.Outcome == Remake {
			got["all"] = h.Overall
		}
	}
	for _, g := range f.Groups {
		if g.Outcome == Remake && g.Dimension == "arch" {
			for _, v := range g.Values {
				got[v.Code] = v.Estimate
			}
		}
	}
	for code, w := range map[string]struct {
		N, Events        int64
		Value, Low, High float64
	}{"all": want.All, "upper": want.Left, "lower": want.Right} {
		assert.Equal(t, w.N, got[code].N, code)
		assert.Equal(t, w.Events, got[code].Events, code)
		requireEstimate(t, [3]float64{w.Value, w.Low, w.High}, got[code], code)
	}
}

func bandValues(t *testing.T, f *Findings, exposure, outcome string) map[string]Estimate {
	t.Helper()
	out := map[string]Estimate{}
	for _, b := range f.Bands {
		if b.Exposure == exposure && b.Outcome == outcome {
			for _, v := range b.Values {
				out[v.Code] = v.Estimate
			}
		}
	}
	require.NotEmpty(t, out)
	return out
}

func curveOf(t *testing.T, f *Findings, outcome, group string) Curve {
	t.Helper()
	for _, c := range f.Curves {
		if c.Outcome == outcome && c.Group == group {
			return c
		}
	}
	require.FailNow(t, "no curve", "%s %s", outcome, group)
	return Curve{}
}

// requireSteps sets a step curve beside R's values on the days that R was asked for.
func requireSteps(t *testing.T, c Curve, want incidences) {
	t.Helper()
	require.NotEmpty(t, want.Day)
	for i, day := range want.Day {
		var at Point
		for _, p := range c.Points {
			if p.Day <= day {
				at = p
			}
		}
		for _, pair := range []struct {
			want float64
			got  Num
		}{{want.Value[i], at.Y}, {want.Low[i], at.Low}, {want.High[i], at.High}} {
			requireNear(t, pair.want, pair.got, c.Outcome+" "+c.Group)
		}
	}
}
