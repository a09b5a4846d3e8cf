package review

import (
	"context"
	"database/sql"
	"fmt"

	"afterfit/internal/stats"
)

// recurrent describes an outcome that a denture can have several times.
type recurrent struct {
	outcome string
	days    int
	scale   float64 // what the mean per denture is multiplied by
	unit    string
}

func (q *asker) recurrents() []recurrent {
	return []recurrent{
		{Adjustments, q.s.AdjustmentDays, 100, "per 100 dentures"},
		{SoreSpots, q.s.SoreDays, 100, "per 100 dentures"},
		{Minutes, q.s.AdjustmentDays, 1, "minutes per denture"},
	}
}

const recurrentMethod = "mean cumulative function, limits robust for patients with several dentures"

// recurrentCounts are one group's day counts.
type recurrentCounts struct {
	ends, events []stats.DayCount
	n, total     int64
	days         int64
}

// prepare counts an outcome for the groups in group_rows and leaves the tables
// that the variances are summed from.
func (q *asker) prepare(ctx context.Context, r recurrent) (map[groupKey]*recurrentCounts, []groupKey, error) {
	groups, order, err := q.countRecurrent(ctx, r)
	if err != nil {
		return nil, nil, err
	}
	return groups, order, q.exec(ctx, "recurrent_influence", r.outcome, r.days)
}

// countRecurrent counts an outcome for the groups in group_rows and leaves recurrent_days.
func (q *asker) countRecurrent(ctx context.Context, r recurrent) (map[groupKey]*recurrentCounts, []groupKey, error) {
	if err := q.exec(ctx, "group_days", r.outcome, r.days); err != nil {
		return nil, nil, err
	}
	groups := map[groupKey]*recurrentCounts{}
	var order []groupKey
	err := q.each(ctx, "recurrent_counts", func(rows *sql.Rows) error {
		var k groupKey
		var day int
		var ends, events int64
		if err := rows.Scan(&k.dimension, &k.code, &day, &ends, &events); err != nil {
			return err
		}
		g := groups[k]
		if g == nil {
			g = &recurrentCounts{}
			groups[k], order = g, append(order, k)
		}
		g.ends = append(g.ends, stats.DayCount{Day: day, N: ends})
		g.events = append(g.events, stats.DayCount{Day: day, N: events})
		g.n, g.total, g.days = g.n+ends, g.total+events, g.days+ends*int64(day)
		return nil
	})
	return groups, order, err
}

// mean is a group's mean cumulative number of events at the end of the window.
func (g *recurrentCounts) mean(days int) (stats.MCFRow, error) {
	m, err := stats.MeanCumulative(g.ends, g.events)
	if err != nil {
		return stats.MCFRow{}, err
	}
	row, _, err := m.At(days)
	return row, err
}

// recurrentEstimates answers one outcome for every group in group_rows.
func (q *asker) recurrentEstimates(ctx context.Context, r recurrent) (map[groupKey]Estimate, error) {
	groups, order, err := q.prepare(ctx, r)
	if err != nil {
		return nil, err
	}
	return q.recurrentOf(ctx, r, groups, order)
}

// recurrentOf estimates the groups that prepare counted.
func (q *asker) recurrentOf(ctx context.Context, r recurrent, groups map[groupKey]*recurrentCounts, order []groupKey) (map[groupKey]Estimate, error) {
	squares, err := q.squares(ctx, "recurrent_squares", true)
	if err != nil {
		return nil, err
	}
	out := make(map[groupKey]Estimate, len(groups))
	for _, k := range order {
		e, err := q.recurrentEstimate(r, groups[k], squares[k])
		if err != nil {
			return nil, fmt.Errorf("%s, %s %s: %w", r.outcome, k.dimension, k.code, err)
		}
		out[k] = e
	}
	return out, nil
}

func (q *asker) recurrentEstimate(r recurrent, g *recurrentCounts, sq robustSum) (Estimate, error) {
	e := Estimate{Level: q.s.Level, N: g.n, Events: g.total, Days: g.days, Unit: r.unit, Method: recurrentMethod, Query: statementBehind(r.outcome), TooFew: q.tooFew(g.n)}
	row, err := g.mean(r.days)
	if err != nil {
		return e, err
	}
	e.Method += fewClusters(sq.patients)
	e.Warnings = fewPatients(sq.patients)
	variance := row.Variance
	if sq.patients >= 2 {
		robust, err := stats.RobustFromSquares(sq.squares, sq.patients)
		if err != nil {
			return e, err
		}
		variance = robust.Variance
	}
	iv, err := row.Limits(variance, q.s.Level)
	if err != nil {
		return e, err
	}
	e.Value, e.Low, e.High = Num(r.scale*row.Mean), Num(r.scale*iv.Low), Num(r.scale*iv.High)
	return e, nil
}

// fewClusters is said beside limits that rest on fewer than 30 patients, "" otherwise.
func fewClusters(patients int64) string {
	if patients >= fewestPatients {
		return ""
	}
	return fmt.Sprintf("; only %d patients, variance enlarged by n/(n-1)", patients)
}

// robustSum is what a cluster-robust variance is made of.
type robustSum struct {
	patients int64
	squares  float64
}

// squares reads the sums of squared pulls; withCode says whether the query names
// codes within dimensions.
func (q *asker) squares(ctx context.Context, name string, withCode bool, args ...any) (map[groupKey]robustSum, error) {
	out := map[groupKey]robustSum{}
	err := q.each(ctx, name, func(rows *sql.Rows) error {
		var k groupKey
		var s robustSum
		into := []any{&k.dimension, &k.code, &s.patients, &s.squares}
		if !withCode {
			into = []any{&k.dimension, &s.patients, &s.squares}
		}
		if err := rows.Scan(into...); err != nil {
			return err
		}
		out[k] = s
		return nil
	}, args...)
	return out, err
}
