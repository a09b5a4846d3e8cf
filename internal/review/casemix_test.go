package review

import (
	"context"
	"encoding/json"
	"math"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"afterfit/internal/store"
)

// unitReference is what testdata/reference/review_units.R found with R 4.2.2,
// sandwich 3.0-2 and digest 0.6.31 in the same CSV files.
type unitReference struct {
	Coef                           map[string]float64
	Slope, Dispersion, Concordance float64
	InLarge                        float64 `json:"in_large"`
	Units                          struct {
		Code                          []string
		Observed, Expected, Low, High []float64
	}
	Step struct {
		LogRatio float64 `json:"log_ratio"`
		SE       float64
		Patients int
	}
}

func unitReferences(t *testing.T) map[string]unitReference {
	t.Helper()
	raw, err := os.ReadFile("../../testdata/reference/review_units.json")
	require.NoError(t, err)
	var parts map[string]json.RawMessage
	require.NoError(t, json.Unmarshal(raw, &parts))
	out := map[string]unitReference{}
	for _, outcome := range []string{Adjustments, SoreSpots} {
		var r unitReference
		require.NoError(t, json.Unmarshal(parts[outcome], &r))
		require.Len(t, r.Units.Code, 6)
		out[outcome] = r
	}
	return out
}

// sameAsR holds a value to a relative 1e-6: expected events are whole billionths here.
func sameAsR(t *testing.T, want float64, got Num, about string) {
	t.Helper()
	if !got.Known() || math.Abs(float64(got)-want) > 1e-6*math.Max(0.01, math.Abs(want)) {
		t.Errorf("%s: got %.10g, R has %.10g", about, float64(got), want)
	}
}

func changed() Settings {
	s := DefaultSettings()
	s.Changes = []Change{{Name: "a course", What: "clearance_over_2", Where: []string{"S2"}, From: "2024-07"}}
	return s
}

// judged answers only what is judged against case mix.
func judged(t *testing.T, st *store.Store, s Settings) *Findings {
	t.Helper()
	ctx := context.Background()
	q, err := newAsker(ctx, st, s)
	require.NoError(t, err)
	defer func() { assert.NoError(t, q.c.Close()) }()
	f := &Findings{}
	require.NoError(t, q.beside(ctx, f))
	return f
}

func TestUnitsAgreeWithR(t *testing.T) {
	f := cleanReview(t)
	seen := 0
	for outcome, want := range unitReferences(t) {
		for _, m := range f.Mix {
			if m.Model.Outcome != outcome {
				continue
			}
			seen++
			sameAsR(t, want.Coef["intercept"], m.Model.Intercept, "intercept")
			for _, term := range m.Model.Terms {
				for _, l := range term.Levels {
					sameAsR(t, want.Coef[term.Name+"="+l.As], l.Coef, term.Name+" "+l.Level)
				}
			}
			sameAsR(t, want.Slope, m.Slope.Value, "slope")
			sameAsR(t, want.Slope, m.Model.Shrink, "pulled in")
			sameAsR(t, want.Dispersion, m.Model.Dispersion, "dispersion")
			sameAsR(t, want.Concordance, m.Concordance, "concordance")
			sameAsR(t, want.InLarge, m.Large.Value, "in the large")
			assert.Len(t, m.Tenths, 10)
			assert.Contains(t, strings.Join(m.Notes, " "), "course=", "course follows from the prior denture")
		}
		for _, u := range f.Units {
			if u.Outcome != outcome || u.Dimension != "clinician" {
				continue
			}
			seen++
			require.Len(t, u.Units, 6)
			for i, x := range u.Units {
				assert.Equal(t, want.Units.Code[i], x.Code)
				assert.InDelta(t, want.Units.Observed[i], x.Ratio.Events, 0)
				sameAsR(t, want.Units.Expected[i], x.Expected, x.Code+" expected")
				sameAsR(t, want.Units.Low[i], x.Ratio.Low, x.Code+" low")
				sameAsR(t, want.Units.High[i], x.Ratio.High, x.Code+" high")
			}
		}
		for _, e := range f.Changes[0].Estimates {
			if e.Measure != outcome {
				continue
			}
			seen++
			sameAsR(t, math.Exp(want.Step.LogRatio), e.Ratio.Value, "step")
			sameAsR(t, math.Exp(want.Step.LogRatio+1.959963984540054*want.Step.SE), e.Ratio.High, "step, high")
		}
	}
	assert.Equal(t, 6, seen, "models, tables and steps compared")
}

// TestSavedStandardJudgesAlike saves a standard, reads it back and finds the same
// expectation on the same data; a level that it does not know is said.
func TestSavedStandardJudgesAlike(t *testing.T) {
	st := cleanStore(t)
	own := cleanReview(t)
	raw, err := json.Marshal(SavedStandard(own))
	require.NoError(t, err)
	s := DefaultSettings()
	s.Standard, err = ReadStandard(raw)
	require.NoError(t, err)
	again := judged(t, st, s)
	require.Equal(t, len(own.Units), len(again.Units))
	for i, table := range own.Units {
		for j, u := range table.Units {
			sameAsR(t, float64(u.Expected), again.Units[i].Units[j].Expected, u.Code)
		}
	}
	assert.True(t, again.Mix[0].Saved)
	assert.NotContains(t, strings.Join(again.Mix[0].Notes, " "), "does not know")

	terms := s.Standard.Models[0].Terms
	for i := range terms {
		if terms[i].Name == "ridge_class" {
			terms[i].Levels = terms[i].Levels[:1]
		}
	}
	s.Standard.Models[0].Intercept += Num(math.Log(2))
	odd := judged(t, st, s)
	assert.Contains(t, strings.Join(odd.Mix[0].Notes, " "), "does not know ridge_class")
	assert.Contains(t, strings.Join(odd.Mix[0].Warnings, " "), "a shift of the whole service")

	for _, bad := range []string{"", "{}", `{"kind":"case-mix standard","schema":1}`, `{"kind":"case-mix standard","schema":99,"models":[{"intercept":1}]}`, `{"kind":"case-mix standard","schema":1,"models":[{"outcome":"remake","intercept":null}]}`} {
		_, err := ReadStandard([]byte(bad))
		assert.Error(t, err, bad)
	}
}

func TestRareLevelsMerge(t *testing.T) {
	term := MixTerm{Name: "x", Levels: []MixLevel{{Level: "a", As: "a", N: 500, Events: 500}, {Level: "b", As: "b", N: 40, Events: 9}, {Level: "c", As: "c", N: 20, Events: 30}}}
	mergeRare(&term)
	assert.Equal(t, []string{"a", "other", "other"}, []string{term.Levels[0].As, term.Levels[1].As, term.Levels[2].As})
	term.Levels[2].N, term.Levels[2].As, term.Levels[2].Events, term.Levels[1].As = 2, "c", 0, "b"
	mergeRare(&term)
	assert.Equal(t, []string{"a", "a", "a"}, []string{term.Levels[0].As, term.Levels[1].As, term.Levels[2].As}, "nine events in all are too few for a coefficient")
}

// TestConcordanceByHand: of the pairs that differ in events, (3 over 1), (3 over 0) and
// (1 over 0): right, half right (equal rates), wrong.
func TestConcordanceByHand(t *testing.T) {
	row := func(rate float64, y int64, whole bool) predicted {
		return predicted{mixCell{whole: whole, y: y, n: 1, share: 1e9}, rate}
	}
	assert.InDelta(t, 0.5, concordance([]predicted{row(1, 1, true), row(2, 3, true), row(2, 0, true), row(0.1, 9, false)}), 1e-12)
	assert.True(t, math.IsNaN(concordance([]predicted{row(1, 1, true), row(2, 1, true)})))
}
