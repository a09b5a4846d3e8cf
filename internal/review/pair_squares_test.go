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
	_, err = q.c.ExecContext(ctx, "CREATE TEMP TABLE linked_dentures AS SELECT * REPLACE (patient_no // 30 AS patient_no) FROM main.linked_dentures")
	require.NoError(t, err)
	require.NoError(t, q.exec(ctx, "pair_clinicians"))
	const clinicians = 15 // more than there are, so that strata have one band
	habits := []string{"h_clearance_over_2", "h_palate_bulk", "h_sized_by_eye"}
	basis, err := q.codePairs(ctx, habits, [][]string{nil}, clinicians)
	require.NoError(t, err)
	compared := 0
	for _, habit := range habits {
		f, err := newPairFit(habit, Adjustments, nil, basis)
		require.NoError(t, err)
		require.NoError(t, q.fitPairs(ctx, []*pairFit{f}, basis))
		if !f.within.ok {
			continue
		}
		require.Equal(t, 1, f.mix.bands)
		cells := "-1"
		for i, s := range f.within.fit {
			if s.Compared {
				cells += fmt.Sprintf(", %d", i)
			}
		}
		var patients, many int64
		require.NoError(t, q.c.QueryRowContext(ctx, fmt.Sprintf(
			"SELECT count(DISTINCT patient_no), count(DISTINCT patient_no) FILTER (dentures > 2) FROM pair_dentures WHERE s_adjustment_visits IS NOT NULL AND %s IS NOT NULL AND %s %% %d IN (%s)", habit, basis.sets[0].Name, 2*clinicians, cells)).Scan(&patients, &many))
		assert.Equal(t, patients, f.patients, habit)
		require.Positive(t, many, habit)
		compared++
	}
	assert.GreaterOrEqual(t, compared, 2)
}
