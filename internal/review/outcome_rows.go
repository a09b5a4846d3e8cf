package review

import (
	"context"
	"database/sql"
	"math"
	"strconv"
	"strings"

	"afterfit/internal/stats"
	"afterfit/queries"
)

// outcomeColumn is an outcome as the statements about all of them take it.
type outcomeColumn struct {
	Name queries.Name
	Days int
	Once bool // it counts once and ends the time at risk
}

// outcomeColumns are all outcomes, those that recur first.
func (q *asker) outcomeColumns() []outcomeColumn {
	var out []outcomeColumn
	for _, r := range q.recurrents() {
		out = append(out, outcomeColumn{queries.NameOf(r.outcome), r.days, false})
	}
	for _, f := range q.firsts() {
		out = append(out, outcomeColumn{queries.NameOf(f.outcome), f.days, true})
	}
	return out
}

// outcomeSheet leaves the temporary table outcome_sheet, once for all questions: for each
// delivered denture and outcome its events within the window and, in billionths, the
// share of the events expected by the end of the window that had fallen due when its
// follow-up ended.
//
// The share is M(end)/M(days), M being the mean cumulative function (for an outcome
// that counts once, the Nelson-Aalen cumulative hazard of its own cause) of all
// dentures together. As an exposure in a model of counts it treats short follow-up
// rightly: visits crowd into the first weeks, so days at risk would overstate what a
// short follow-up had yet to bring. The observed events of any set of dentures have
// the set's sum of shares times M(days) as their expectation if the set is like the
// rest, since events minus cumulative rate is a martingale (Andersen & Gill 1982).
func (q *asker) outcomeSheet(ctx context.Context) error {
	if q.sheet {
		return nil
	}
	outcomes := q.outcomeColumns()
	if err := q.execFilled(ctx, "outcome_ends", outcomes); err != nil {
		return err
	}
	ends, events := make([][]stats.DayCount, len(outcomes)), make([][]stats.DayCount, len(outcomes))
	err := q.eachFilled(ctx, "outcome_days", outcomes, func(rows *sql.Rows) error {
		var no, day int
		var left, happened int64
		err := rows.Scan(&no, &day, &left, &happened)
		ends[no], events[no] = append(ends[no], stats.DayCount{Day: day, N: left}), append(events[no], stats.DayCount{Day: day, N: happened})
		return err
	})
	if err != nil {
		return err
	}
	shares := make([]string, len(outcomes))
	for no, o := range outcomes {
		due, err := dueShares(ends[no], events[no], o.Days)
		if err != nil {
			return err
		}
		shares[no] = joinInts(due)
	}
	q.sheet = true
	return q.execFilled(ctx, "outcome_sheet", outcomes, strings.Join(shares, ";"))
}

// outcomeRows leaves the temporary view outcome_rows: one outcome's columns of
// outcome_sheet, for the dentures whose follow-up reached a day on which anything was
// expected.
func (q *asker) outcomeRows(ctx context.Context, outcome string) error {
	if err := q.outcomeSheet(ctx); err != nil {
		return err
	}
	return q.execFilled(ctx, "outcome_rows", queries.NameOf(outcome))
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
