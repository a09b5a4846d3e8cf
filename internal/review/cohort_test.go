package review

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"afterfit/internal/demo"
	"afterfit/internal/habit"
)

// TestCohortAgreesWithGroupRows compares every figure of every group with the long way:
// one row per denture and group, grouped as it stands. Half of the second cases are
// put with another clinician, some dentures are followed for next to nothing or to the
// very end of a window, some of these until a death, and some patients have many dentures, so that patients stand in several groups of one dimension.
func TestCohortAgreesWithGroupRows(t *testing.T) {
	ctx := context.Background()
	dir := t.TempDir()
	require.NoError(t, demo.Write(ctx, dir, demo.Options{Cases: 700}))
	st := loaded(t, 2, dir)
	for _, change := range []string{
		`UPDATE cases SET clinician = 'D01' WHERE ascii(right(case_id, 1)) % 2 = 0 AND patient_key IN (SELECT patient_key FROM cases GROUP BY 1 HAVING count(*) > 1)`,
		`UPDATE cases SET patient_key = (SELECT min(patient_key) FROM cases) WHERE ascii(right(case_id, 1)) % 10 = 3`,
		`UPDATE cases SET observed_to_day = observed_to_day // 9 WHERE ascii(right(case_id, 1)) % 10 = 5`,
		`UPDATE cases c SET observed_to_day = d.day + CASE ascii(right(case_id, 1)) % 3 WHEN 0 THEN 30 WHEN 1 THEN 90 ELSE 365 END,
			observed_end = CASE WHEN ascii(right(case_id, 1)) % 2 = 0 THEN 'died' ELSE 'moved' END
		 FROM (SELECT case_id AS id, min(delivered_day) AS day FROM dentures GROUP BY 1) d WHERE d.id = c.case_id AND ascii(right(case_id, 2)) % 2 = 0`,
	} {
		_, err := st.DB().Exec(change)
		require.NoError(t, err)
	}
	q, err := newAsker(ctx, st, DefaultSettings())
	require.NoError(t, err)
	defer func() { require.NoError(t, q.c.Close()) }()
	c, err := q.newCohort(ctx, slices.Concat([]string{"all"}, dimensions, exposures)...)
	require.NoError(t, err)
	require.NoError(t, c.robust(ctx))
	firsts, err := c.firsts(ctx)
	require.NoError(t, err)
	require.NoError(t, q.exec(ctx, "group_rows"))
	same := func(outcome string, want, got map[groupKey]Estimate) {
		require.Greater(t, len(want), 50)
		require.Len(t, got, len(want))
		for k, e := range want {
			w, err := json.Marshal(e)
			require.NoError(t, err)
			g, err := json.Marshal(got[k])
			require.NoError(t, err)
			assert.JSONEq(t, string(w), string(g), "%s of %v", outcome, k)
		}
	}
	for _, r := range q.recurrents() {
		want, err := q.recurrentEstimates(ctx, r)
		require.NoError(t, err)
		got, _, err := c.recurrentEstimates(ctx, r)
		require.NoError(t, err)
		same(r.outcome, want, got)
	}
	patients, err := q.patients(ctx)
	require.NoError(t, err)
	for _, o := range q.firsts() {
		want, _, err := q.firstEstimates(ctx, o, patients)
		require.NoError(t, err)
		got, _, err := firsts.estimates(ctx, o)
		require.NoError(t, err)
		same(o.outcome, want, got)
	}
	for _, outcome := range []string{firstAdjustment, Remake} {
		got, err := firsts.curvesOf(outcome)
		require.NoError(t, err)
		require.Len(t, got, 3)
		o, err := firsts.outcome(outcome)
		require.NoError(t, err)
		want, _, err := q.countFirsts(ctx, outcome, o.Days)
		require.NoError(t, err)
		for k, g := range got {
			assert.Equal(t, want[k], g, "%s of %v", outcome, k)
		}
	}
}

// TestHabitsOfTheCaseStandWithBothDentures: habitCounts and habitPeriods count a case
// by one of its dentures, which is right only where both say the same.
func TestHabitsOfTheCaseStandWithBothDentures(t *testing.T) {
	dir := t.TempDir()
	require.NoError(t, demo.Write(context.Background(), dir, demo.Options{Cases: 400}))
	st := loaded(t, 2, dir)
	require.NoError(t, EnsureLinked(context.Background(), st, DefaultSettings()))
	cases := 0
	for _, h := range habit.Catalogue {
		if h.Unit != habit.Case {
			continue
		}
		cases++
		var apart, both int
		require.NoError(t, st.DB().QueryRow(fmt.Sprintf(`SELECT count(*) FILTER (told NOT IN (0, n) OR kinds > 1), count(*) FILTER (told = 2)
			FROM (SELECT count(*) AS n, count(%[1]s) AS told, count(DISTINCT %[1]s) AS kinds FROM linked_dentures GROUP BY case_id)`, h.Column())).Scan(&apart, &both))
		assert.Zero(t, apart, h.ID)
		assert.Positive(t, both, h.ID)
	}
	assert.Greater(t, cases, 5)
}
