package review

import (
	"cmp"
	"context"
	"encoding/json"
	"math"
	"os"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// auditReference is testdata/reference/review_audit.json, made by review_audit.R with R
// 4.2.2 from the CSV files of the clean bundle.
type auditReference struct {
	Spreads map[string]struct {
		N int64
		Q []float64
	}
	Like map[string]map[string]struct {
		Level                       string
		N, Days, Observed, Followed int64
		AsMany                      int64 `json:"as_many"`
		Value, Low, High            float64
	}
}

func TestAuditsAgreeWithR(t *testing.T) {
	raw, err := os.ReadFile("../../testdata/reference/review_audit.json")
	require.NoError(t, err)
	var want auditReference
	require.NoError(t, json.Unmarshal(raw, &want))
	require.Len(t, want.Like, 4)
	st := cleanStore(t)
	for id, dentures := range want.Like {
		a := auditOf(t, st, DefaultSettings(), id)
		seen := 0
		for _, x := range a.Expected {
			w, ok := dentures[x.Arch]
			if x.Outcome != Adjustments || !assert.True(t, ok, "%s %s", id, x.Arch) {
				continue
			}
			seen++
			assert.Equal(t, w.Level, x.Level, id)
			assert.Equal(t, []int64{w.N, w.Days, w.Observed, w.Followed, w.AsMany}, []int64{x.Like.N, x.Days, x.Observed, x.AsMany.N, x.AsMany.Events}, "%s %s", id, x.Arch)
			requireNear(t, w.Value, x.Like.Value, id+" like")
			assert.True(t, near(float64(x.Like.Low), w.Low, pullsAreRounded), "%s low: %v, R has %v", id, x.Like.Low, w.Low)
			assert.True(t, near(float64(x.Like.High), w.High, pullsAreRounded), "%s high: %v, R has %v", id, x.Like.High, w.High)
		}
		assert.Equal(t, len(dentures), seen, id)
		for _, v := range a.Values {
			w, ok := want.Spreads[v.Arch+v.Field]
			require.True(t, ok, v.Arch+v.Field)
			assert.Equal(t, w.N, v.N, v.Field)
			for i, got := range []Num{v.P5, v.P50, v.P95} {
				requireNear(t, w.Q[i], got, v.Arch+v.Field)
			}
		}
	}
}

// caseShape is what the nearest cases are compared by, read row by row.
type caseShape struct {
	id, patient, arches, prior, sex string
	ridge, age, freeway, clearance  int64 // -1 not recorded
	complete                        bool
}

// caseShapes reads every case of the clean bundle the slow way.
func caseShapes(t *testing.T, q *asker) []caseShape {
	t.Helper()
	rows, err := q.c.QueryContext(context.Background(), `SELECT case_id, patient_key, arch, coalesce(prior_denture, ''), coalesce(sex, ''), coalesce(ridge_class, -1), coalesce(age_band, ''),
		coalesce(CAST(freeway_mm AS DOUBLE), -99), coalesce(CAST(clearance_max_mm AS DOUBLE), -99), risk_days, end_reason FROM linked_dentures JOIN linked_patients USING (patient_no) ORDER BY case_id, arch`)
	require.NoError(t, err)
	defer rows.Close()
	var out []caseShape
	for rows.Next() {
		var s caseShape
		var arch, age, end string
		var freeway, clearance float64
		var risk int64
		require.NoError(t, rows.Scan(&s.id, &s.patient, &arch, &s.prior, &s.sex, &s.ridge, &age, &freeway, &clearance, &risk, &end))
		s.age = int64(slices.Index([]string{"<50", "50-59", "60-69", "70-79", "80-89", "90+"}, age))
		s.freeway, s.clearance, s.arches, s.complete = halves(freeway), halves(clearance), arch, risk >= 90 || end == "remade" || end == "died"
		if n := len(out); n > 0 && out[n-1].id == s.id {
			last := &out[n-1]
			last.arches, last.complete, last.clearance = last.arches+"+"+arch, last.complete && s.complete, max(last.clearance, s.clearance)
			continue
		}
		out = append(out, s)
	}
	require.NoError(t, rows.Err())
	return out
}

func halves(mm float64) int64 {
	if mm <= -99 {
		return -1
	}
	return int64(math.Round(2 * mm))
}

// apart is how far two values lie; one missing is further than any other distance.
func apart(a, b int64) int64 {
	switch {
	case a < 0 && b < 0:
		return 0
	case a < 0 || b < 0:
		return 1 << 40
	}
	return max(a-b, b-a)
}

func unlike(a, b string) int64 {
	if a != b {
		return 1
	}
	return 0
}

// TestNearestCasesAgreeWithASlowSearch compares every case with every other.
func TestNearestCasesAgreeWithASlowSearch(t *testing.T) {
	ctx := context.Background()
	st := cleanStore(t)
	q, err := newAsker(ctx, st, DefaultSettings())
	require.NoError(t, err)
	defer func() { assert.NoError(t, q.c.Close()) }()
	all := caseShapes(t, q)
	require.Greater(t, len(all), 200)
	for i := 0; i < len(all); i += 29 {
		own := all[i]
		type candidate struct {
			id  string
			far []int64
		}
		var near []candidate
		for _, s := range all {
			if s.patient != own.patient && s.arches == own.arches && s.complete {
				near = append(near, candidate{s.id, []int64{apart(s.ridge, own.ridge), unlike(s.prior, own.prior), apart(s.age, own.age), unlike(s.sex, own.sex),
					apart(s.freeway, own.freeway), apart(s.clearance, own.clearance)}})
			}
		}
		slices.SortFunc(near, func(a, b candidate) int { return cmp.Or(slices.Compare(a.far, b.far), cmp.Compare(a.id, b.id)) })
		a := Audit{Case: AuditCase{ID: own.id}}
		require.NoError(t, q.auditSimilar(ctx, &a))
		require.Len(t, a.Similar, min(similarCases, len(near)), own.id)
		for j, s := range a.Similar {
			assert.Equal(t, near[j].id, s.ID, "%s, place %d", own.id, j+1)
		}
	}
}
