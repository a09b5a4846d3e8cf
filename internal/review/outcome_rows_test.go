package review

import (
	"context"
	"database/sql"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"afterfit/internal/stats"
)

// TestDueSharesByHand: four dentures, followed for 0, 1, 2 and 2 days; one event on
// day 0 among four, one on day 2 among two. M is 1/4 on days 0 and 1 and 3/4 on day 2.
func TestDueSharesByHand(t *testing.T) {
	ends := []stats.DayCount{{Day: 0, N: 1}, {Day: 1, N: 1}, {Day: 2, N: 2}}
	got, err := dueShares(ends, []stats.DayCount{{Day: 0, N: 1}, {Day: 2, N: 1}}, 2)
	require.NoError(t, err)
	assert.Equal(t, []int64{333333333, 333333333, 1000000000}, got)

	got, err = dueShares(ends, nil, 3)
	require.NoError(t, err)
	assert.Equal(t, []int64{250000000, 500000000, 750000000, 1000000000}, got, "nothing ever happened: time runs evenly")

	_, err = dueShares(nil, nil, 3)
	assert.ErrorIs(t, err, stats.ErrNoData)
}

// TestExpectedOfAllIsObserved: over all dentures together, shares times the mean
// cumulative number add up to the events, whatever the follow-up (a martingale's
// mean is exact in the sample that the curve comes from).
func TestExpectedOfAllIsObserved(t *testing.T) {
	ctx := context.Background()
	q, err := newAsker(ctx, cleanStore(t), DefaultSettings())
	require.NoError(t, err)
	defer q.c.Close()
	for _, o := range []struct {
		outcome string
		days    int
	}{{Adjustments, 90}, {SoreSpots, 30}, {Minutes, 90}, {Remake, 365}, {Ulcer, 30}} {
		require.NoError(t, q.outcomeRows(ctx, o.outcome))
		var events, share, dentures int64
		row := q.c.QueryRowContext(ctx, "SELECT CAST(sum(y) AS BIGINT), CAST(sum(share_e9) AS BIGINT), count(*) FROM outcome_rows")
		require.NoError(t, row.Scan(&events, &share, &dentures))
		require.Positive(t, events, o.outcome)
		assert.LessOrEqual(t, share, dentures*1e9)
		mean, n := meanByDay(t, q, o.outcome, o.days)
		assert.InDelta(t, float64(events), float64(share)/1e9*mean, 1e-6*float64(n), o.outcome)
	}
}

// meanByDay works the mean cumulative number out by the definition, day by day.
func meanByDay(t *testing.T, q *asker, outcome string, days int) (mean float64, events int64) {
	t.Helper()
	type day struct{ ends, events int64 }
	by := map[int]day{}
	var risk int64
	outcomes := q.outcomeColumns()
	require.NoError(t, q.eachFilled(context.Background(), "outcome_days", outcomes, func(rows *sql.Rows) error {
		var no, d int
		var x day
		err := rows.Scan(&no, &d, &x.ends, &x.events)
		if outcomes[no].Name.String() == outcome {
			by[d], risk = x, risk+x.ends
		}
		return err
	}))
	for d := range days + 1 {
		mean, events = mean+float64(by[d].events)/float64(risk), events+by[d].events
		risk -= by[d].ends
		if risk == 0 {
			break
		}
	}
	return mean, events
}
