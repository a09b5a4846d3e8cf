package review

import (
	"context"
	"database/sql"
	"math"
	"strconv"
	"strings"

	"afterfit/internal/stats"
)

// outcomeRows leaves the temporary table outcome_rows: for each delivered denture its
// events within days of delivery and, in billionths, the share of the events expected
// by the end of the window that had fallen due when its follow-up ended. Once says
// that the outcome counts once and ends the time at risk.
//
// The share is M(end)/M(days), M being the mean cumulative function (for an outcome
// that counts once, the Nelson-Aalen cumulative hazard of its own cause) of all
// dentures together. As an exposure in a model of counts it treats short follow-up
// rightly: visits crowd into the first weeks, so days at risk would overstate what a
// short follow-up had yet to bring. The observed events of any set of dentures have
// the set's sum of shares times M(days) as their expectation if the set is like the
// rest, since events minus cumulative rate is a martingale (Andersen & Gill 1982).
func (q *asker) outcomeRows(ctx context.Context, outcome string, days int, once bool) error {
	if err := q.exec(ctx, "outcome_ends", outcome, days, once); err != nil {
		return err
	}
	var ends, events []stats.DayCount
	err := q.each(ctx, "outcome_days", func(rows *sql.Rows) error {
		var day int
		var left, happened int64
		err := rows.Scan(&day, &left, &happened)
		ends, events = append(ends, stats.DayCount{Day: day, N: left}), append(events, stats.DayCount{Day: day, N: happened})
		return err
	}, outcome, days, once)
	if err != nil {
		return err
	}
	shares, err := dueShares(ends, events, days)
	if err != nil {
		return err
	}
	return q.exec(ctx, "outcome_rows", joinInts(shares))
}

// dueShares is the share of the window's expected events that has fallen due by each
// day from 0 to days, in billionths. Where nothing ever happened there is no curve to
// follow and time runs evenly.
func dueShares(ends, events []stats.DayCount, days int) ([]int64, error) {
	out := make([]int64, days+1)
	m, err := stats.MeanCumulative(ends, events)
	if err != nil {
		return nil, err
	}
	last, _, err := m.At(days)
	if err != nil {
		return nil, err
	}
	for d := range out {
		share := float64(d+1) / float64(days+1)
		if last.Mean > 0 {
			row, _, err := m.At(d)
			if err != nil {
				return nil, err
			}
			share = row.Mean / last.Mean
		}
		out[d] = int64(math.Round(1e9 * share))
	}
	return out, nil
}

func joinInts(values []int64) string {
	text := make([]string, len(values))
	for i, v := range values {
		text[i] = strconv.FormatInt(v, 10)
	}
	return strings.Join(text, ",")
}
