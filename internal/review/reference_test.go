package review

import (
	"encoding/json"
	"math"
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

type referenceFigure struct {
	N, Events       int64
	Mean, Low, High float64
}

// reference is what testdata/reference/review_clean.R found with R 4.2.2 and
// survival 3.5-3 in the same CSV files.
type reference struct {
	Groups          map[string]map[string]referenceFigure
	FirstAdjustment struct{ Day, Share, Low, High []float64 } `json:"first_adjustment"`
	Remake          struct{ Value float64 }
}

func requireNear(t *testing.T, want float64, got Num, about string) {
	t.Helper()
	if math.IsNaN(float64(got)) || math.Abs(float64(got)-want) > 1e-9*math.Max(1, math.Abs(want)) {
		t.Errorf("%s: got %.12g, R has %.12g", about, float64(got), want)
	}
}

// TestCleanBundleAgreesWithR sets the whole way from CSV to figure beside R.
func TestCleanBundleAgreesWithR(t *testing.T) {
	raw, err := os.ReadFile("../../testdata/reference/review_clean.json")
	require.NoError(t, err)
	var want reference
	require.NoError(t, json.Unmarshal(raw, &want))
	require.Len(t, want.Groups, 9)
	f := cleanReview(t)

	got := map[string]map[string]Estimate{}
	add := func(code, outcome string, e Estimate) {
		if got[code] == nil {
			got[code] = map[string]Estimate{}
		}
		got[code][outcome] = e
	}
	for _, h := range f.Headlines {
		add("all", h.Outcome, h.Overall)
	}
	for _, g := range f.Groups {
		if g.Dimension == "arch" || g.Dimension == "clinician" {
			for _, v := range g.Values {
				add(v.Code, g.Outcome, v.Estimate)
			}
		}
	}
	for code, figures := range want.Groups {
		for name, of := range map[string]struct {
			outcome string
			scale   float64
		}{"visits": {Adjustments, 100}, "spots": {SoreSpots, 100}, "minutes": {Minutes, 1}} {
			w, g := figures[name], got[code][of.outcome]
			assert.Equal(t, w.N, g.N, "%s %s", code, name)
			assert.Equal(t, w.Events, g.Events, "%s %s", code, name)
			requireNear(t, of.scale*w.Mean, g.Value, code+" "+name)
			requireNear(t, of.scale*w.Low, g.Low, code+" "+name+" low")
			requireNear(t, of.scale*w.High, g.High, code+" "+name+" high")
		}
	}
	requireNear(t, 100*want.Remake.Value, got["all"][Remake].Value, "remake")
	// Its limits allow for patients with two dentures: TestIncidencesAgreeWithR.
	curve := f.Curves[0]
	require.Equal(t, "first_adjustment", curve.Outcome)
	for i, day := range want.FirstAdjustment.Day {
		last := curve.Points[0]
		for _, p := range curve.Points {
			if float64(p.Day) <= day {
				last = p
			}
		}
		requireNear(t, want.FirstAdjustment.Share[i], last.Y, "not yet adjusted")
		requireNear(t, want.FirstAdjustment.Low[i], last.Low, "not yet adjusted, low")
		requireNear(t, want.FirstAdjustment.High[i], last.High, "not yet adjusted, high")
	}
}
