package review

import (
	"context"
	"encoding/json"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"afterfit/internal/demo"
)

// colleagueRows makes a group of each clinician's colleagues, denture by denture: the
// long way that ownAndOthers has to agree with.
const colleagueRows = `CREATE OR REPLACE TEMP TABLE group_rows AS
SELECT CAST(dense_rank() OVER (ORDER BY o.clinician) AS INTEGER) AS grp,
       'colleagues' AS dimension, o.clinician AS code, d.arch, d.denture_no, d.patient_no, d.risk_days, d.end_reason
FROM (SELECT DISTINCT clinician FROM linked_dentures) o
JOIN linked_dentures d ON d.clinician <> o.clinician`

// TestColleaguesAreEverybodyLessOne compares every outcome of every clinician's
// colleagues with the same group counted by itself. Half of the second cases are put
// with another clinician, so that there are patients whom two clinicians share.
func TestColleaguesAreEverybodyLessOne(t *testing.T) {
	ctx := context.Background()
	dir := t.TempDir()
	require.NoError(t, demo.Write(ctx, dir, demo.Options{Cases: 900}))
	st := loaded(t, 2, dir)
	_, err := st.DB().Exec(`UPDATE cases SET clinician = 'D01' WHERE ascii(right(case_id, 1)) % 2 = 0 AND patient_key IN (SELECT patient_key FROM cases GROUP BY 1 HAVING count(*) > 1)`)
	require.NoError(t, err)
	q, err := newAsker(ctx, st, DefaultSettings())
	require.NoError(t, err)
	defer func() { require.NoError(t, q.c.Close()) }()
	m := &material{own: map[string]map[string]Estimate{}, others: map[string]map[string]Estimate{}}
	require.NoError(t, q.ownAndOthers(ctx, m))
	var shared int
	require.NoError(t, q.c.QueryRowContext(ctx, "SELECT count(*) FROM (SELECT patient_no FROM linked_dentures GROUP BY 1 HAVING count(DISTINCT clinician) > 1)").Scan(&shared))
	require.Greater(t, shared, 10)
	_, err = q.c.ExecContext(ctx, colleagueRows)
	require.NoError(t, err)
	same := func(outcome string, estimates map[groupKey]Estimate) {
		require.NotEmpty(t, estimates)
		require.Len(t, m.others[outcome], len(estimates))
		for k, e := range estimates {
			want, err := json.Marshal(e)
			require.NoError(t, err)
			got, err := json.Marshal(m.others[outcome][k.code])
			require.NoError(t, err)
			assert.JSONEq(t, string(want), string(got), "%s of the colleagues of %s", outcome, k.code)
		}
	}
	for _, r := range q.recurrents() {
		estimates, err := q.recurrentEstimates(ctx, r)
		require.NoError(t, err)
		same(r.outcome, estimates)
	}
	patients, err := q.patients(ctx)
	require.NoError(t, err)
	for _, f := range q.firsts() {
		estimates, _, err := q.firstEstimates(ctx, f, patients)
		require.NoError(t, err)
		same(f.outcome, estimates)
	}
}
