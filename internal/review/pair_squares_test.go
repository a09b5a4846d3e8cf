package review

import (
	"context"
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestPatientsComparedAreCountedOnce counts the patients of each comparison again from
// the dentures, on a service in which some have three dentures or more. With one band
// a cell is a clinician and an arch.
func TestPatientsComparedAreCountedOnce(t *testing.T) {
	ctx := context.Background()
	q, err := newAsker(ctx, loaded(t, 0, clean), DefaultSettings())
	require.NoError(t, err)
	defer q.c.Close()
	// Dentures of other patients become a third and a fourth of some.
	_, err = q.c.ExecContext(ctx, "UPDATE linked_cases SET patient_no = patient_no // 30")
	require.NoError(t, err)
	d, err := q.dentures(ctx)
	require.NoError(t, err)
	basis := newPairBasis(d, 15) // more clinicians than there are, so that strata have one band
	compared := 0
	for _, habit := range []string{"h_clearance_over_2", "h_palate_bulk", "h_sized_by_eye"} {
		f := newPairFit(habit, Adjustments, nil)
		require.NoError(t, q.fitPairs(ctx, []*pairFit{f}, basis))
		if !f.within.ok {
			continue
		}
		require.Equal(t, 1, f.mix.bands)
		places := "''"
		for i, s := range f.within.fit {
			if s.Compared {
				places += fmt.Sprintf(", '%s|%s'", d.codes["clinician"].levels[i/2], []string{"lower", "upper"}[i%2])
			}
		}
		var patients, many int64
		require.NoError(t, q.c.QueryRowContext(ctx, fmt.Sprintf(
			`WITH d AS (SELECT *, count(*) OVER (PARTITION BY patient_no) AS dentures FROM linked_dentures)
SELECT count(DISTINCT patient_no), count(DISTINCT patient_no) FILTER (dentures > 2) FROM d WHERE risk_days >= 0 AND denture_no IN (SELECT denture_no FROM linked_dentures WHERE %s IS NOT NULL) AND clinician || '|' || arch IN (%s)`, habit, places)).Scan(&patients, &many))
		assert.Equal(t, patients, f.patients, habit)
		require.Positive(t, many, habit)
		compared++
	}
	assert.GreaterOrEqual(t, compared, 2)
}
