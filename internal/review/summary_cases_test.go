package review

import (
	"context"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"afterfit/internal/demo"
	"afterfit/internal/habit"
)

// habitCases is the long way to the cases that summaries name: every clinician's and
// habit's cases put in order.
const habitCases = `WITH long AS (
    UNPIVOT (SELECT case_id, denture_no, clinician, COLUMNS('^h_') FROM linked_dentures) ON COLUMNS('^h_') INTO NAME habit VALUE present
), visits AS (
    SELECT denture_no, count(*) AS n FROM linked_events WHERE outcome = 'adjustment_visits' GROUP BY denture_no
), shown AS (
    SELECT l.clinician, l.habit[3:] AS habit, l.case_id, coalesce(sum(v.n), 0) AS visits
    FROM long l LEFT JOIN visits v USING (denture_no)
    WHERE l.present AND list_contains(string_split(CAST($1 AS VARCHAR), '|'), l.habit[3:])
    GROUP BY ALL
)
SELECT clinician, habit, case_id
FROM shown
QUALIFY row_number() OVER (PARTITION BY clinician, habit ORDER BY visits DESC, case_id) <= 5
ORDER BY clinician, habit, visits DESC, case_id`

// coverageByVisit counts visits and dentures one by one.
const coverageByVisit = `SELECT c.clinician, (SELECT count(*) FROM dentures n JOIN cases o USING (case_id) WHERE o.clinician = c.clinician AND n.delivered_day IS NULL),
       (SELECT count(*) FROM dentures n JOIN cases o USING (case_id) WHERE o.clinician = c.clinician AND n.delivered_day > o.observed_to_day),
       (SELECT count(*) FROM visits v JOIN cases o USING (case_id) WHERE o.clinician = c.clinician AND v.arch IS NULL),
       (SELECT count(*) FROM visits v JOIN cases o USING (case_id) WHERE o.clinician = c.clinician AND v.day < (SELECT min(delivered_day) FROM dentures n WHERE n.case_id = v.case_id))
FROM (SELECT DISTINCT clinician FROM cases) c ORDER BY c.clinician`

// summaryStore is a service some of whose dentures were delivered after the end of
// observation, or not at all, and some of whose cases have visits and no denture.
func summaryStore(t *testing.T) *asker {
	t.Helper()
	ctx := context.Background()
	dir := t.TempDir()
	require.NoError(t, demo.Write(ctx, dir, demo.Options{Cases: 1500}))
	st := loaded(t, 2, dir)
	for _, change := range []string{
		"UPDATE dentures SET delivered_day = 9000 WHERE ascii(right(case_id, 1)) % 5 = 0 AND (arch = 'upper' OR ascii(right(case_id, 1)) % 2 = 0)",
		"UPDATE dentures SET delivered_day = NULL WHERE ascii(right(case_id, 1)) % 7 = 0 AND arch = 'lower'",
		"DELETE FROM dentures WHERE case_id IN (SELECT case_id FROM visits WHERE arch IS NULL AND day % 3 = 0)",
	} {
		_, err := st.DB().Exec(change)
		require.NoError(t, err)
	}
	q, err := newAsker(ctx, st, DefaultSettings())
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, q.c.Close()) })
	return q
}

func TestOwnCoverageCountsEveryDentureAndVisit(t *testing.T) {
	ctx, q := context.Background(), summaryStore(t)
	got, err := q.ownCoverage(ctx)
	require.NoError(t, err)
	rows, err := q.c.QueryContext(ctx, coverageByVisit)
	require.NoError(t, err)
	defer rows.Close()
	var sums [4]int64
	for rows.Next() {
		var code string
		var want [4]int64
		require.NoError(t, rows.Scan(&code, &want[0], &want[1], &want[2], &want[3]))
		of := got[code]
		assert.Equal(t, want, [4]int64{of.Undelivered, of.unobserved, of.NoArchVisits, of.BeforeDelivery}, code)
		for i, n := range want {
			sums[i] += n
		}
	}
	require.NoError(t, rows.Err())
	for i, n := range sums {
		require.Greater(t, n, int64(10), "nothing to see in column %d", i)
	}
}

func TestOpenCasesOfEachClinicianAreTheFirstOfAll(t *testing.T) {
	ctx, q := context.Background(), summaryStore(t)
	q.s.OpenCases = 1_000_000
	all, err := q.openCases(ctx, false)
	require.NoError(t, err)
	require.Greater(t, len(all), 100)
	q.s.OpenCases = 4
	first, err := q.openCases(ctx, false)
	require.NoError(t, err)
	assert.Equal(t, all[:4], first)
	want := map[string][]OpenCase{}
	for _, c := range all {
		if len(want[c.Clinician]) < 4 {
			want[c.Clinician] = append(want[c.Clinician], c)
		}
	}
	each, err := q.openCases(ctx, true)
	require.NoError(t, err)
	got := map[string][]OpenCase{}
	for _, c := range each {
		got[c.Clinician] = append(got[c.Clinician], c)
	}
	assert.Equal(t, want, got)
}

// TestCasesToLookAreTheFirstOfAll asks for every habit of every clinician, whether worth
// trying or not, three at a time.
func TestCasesToLookAreTheFirstOfAll(t *testing.T) {
	ctx, q := context.Background(), summaryStore(t)
	_, err := q.dentures(ctx)
	require.NoError(t, err)
	var ids []string
	for _, h := range habit.Catalogue {
		ids = append(ids, h.ID)
	}
	rows, err := q.c.QueryContext(ctx, habitCases, strings.Join(ids, "|"))
	require.NoError(t, err)
	defer rows.Close()
	want, n := map[[2]string][]string{}, 0
	for ; rows.Next(); n++ {
		var clinician, of, id string
		require.NoError(t, rows.Scan(&clinician, &of, &id))
		want[[2]string{clinician, of}] = append(want[[2]string{clinician, of}], id)
	}
	require.NoError(t, rows.Err())
	require.Greater(t, n, 500)
	for three := range slices.Chunk(ids, 3) {
		var all []Summary
		for _, code := range q.all.codes["clinician"].levels {
			s := Summary{Clinician: code}
			for _, id := range three {
				s.Try = append(s.Try, Try{Habit: id})
			}
			all = append(all, s)
		}
		require.NoError(t, q.casesToLook(ctx, all))
		for _, s := range all {
			for _, x := range s.Try {
				assert.Equal(t, want[[2]string{s.Clinician, x.Habit}], x.Cases, "%s, %s", s.Clinician, x.Habit)
			}
		}
	}
}
