package review

import (
	"context"
	"database/sql"
	"errors"
	"math"
	"slices"

	"afterfit/internal/stats"
)

// timeSum is what one period brought.
type timeSum struct {
	n, observed     int64
	expected, share float64
}

// timeSeries holds the periods of one unit, gaps filled with empty ones.
type timeSeries struct {
	first int // number of the first period
	sums  []timeSum
}

// timeSums reads every unit's course; all have the service's periods.
func (q *asker) timeSums(ctx context.Context, kind string) (map[groupKey]*timeSeries, []groupKey, error) {
	type row struct {
		key    groupKey
		number int
		timeSum
	}
	var rowsRead []row
	low, high := math.MaxInt, math.MinInt
	err := q.each(ctx, "time_sums", func(rows *sql.Rows) error {
		var r row
		var period string
		var e9, share int64
		if err := rows.Scan(&r.key.dimension, &r.key.code, &period, &r.n, &r.observed, &e9, &share); err != nil {
			return err
		}
		var err error
		r.number, err = periodNumber(kind, period)
		r.expected, r.share = float64(e9)/1e9, float64(share)/1e9
		low, high = min(low, r.number), max(high, r.number)
		rowsRead = append(rowsRead, r)
		return err
	})
	out := map[groupKey]*timeSeries{}
	var order []groupKey
	for _, r := range rowsRead {
		s := out[r.key]
		if s == nil {
			s = &timeSeries{first: low, sums: make([]timeSum, high-low+1)}
			out[r.key], order = s, append(order, r.key)
		}
		s.sums[r.number-low] = r.timeSum
	}
	return out, order, err
}

// mature is how many of the first periods can be judged: those after it are the last
// ones, of whose events less than the set share has fallen due.
func (q *asker) mature(all *timeSeries) int {
	n := len(all.sums)
	for n > 0 && all.sums[n-1].share < q.s.MatureShare*float64(all.sums[n-1].n) {
		n--
	}
	return n
}

const (
	ruleBeyond, ruleShift, ruleCrossings = "beyond_limits", "shift", "crossings"
	// chartWidth is Shewhart's distance of the limits, in standard errors; the runs
	// rules need this many periods to say anything.
	chartWidth, runsNeed = 3, 10
)

// timeChart charts one unit. perDenture is the service's mean per denture, which turns
// observed over expected into a rate.
func (q *asker) timeChart(s *timeSeries, kind string, mature int, perDenture float64) (TimeChart, error) {
	t := TimeChart{Fineness: kind, Broken: []string{}, Center: Num(math.NaN()), Median: Num(math.NaN()), SigmaZ: Num(math.NaN()), FalseSignal: Num(math.NaN()), Query: "time_sums"}
	periods := make([]stats.Period, len(s.sums))
	for i, x := range s.sums {
		periods[i] = stats.Period{Events: float64(x.observed), Size: x.expected / perDenture}
		due := math.NaN()
		if x.n > 0 {
			due = x.share / float64(x.n)
		}
		p := TimePoint{Period: periodName(kind, s.first+i), N: x.n, Observed: x.observed, Expected: Num(x.expected), Due: Num(due), Immature: i >= mature,
			Value: Num(math.NaN()), Low: Num(math.NaN()), High: Num(math.NaN())}
		if x.expected > 0 {
			p.Value = Num(100 * float64(x.observed) / x.expected * perDenture)
		}
		t.Points = append(t.Points, p)
	}
	if mature < 2 {
		return t, nil
	}
	c, err := laneyChart(stats.UChart, periods, mature)
	if errors.Is(err, stats.ErrNoData) {
		return t, nil
	}
	if err != nil {
		return t, err
	}
	t.limits(c, mature)
	return t, t.runs(mature)
}

// limits takes a chart's lines over, in %, and names points of the mature periods that
// lie beyond them.
func (t *TimeChart) limits(c stats.Chart, mature int) {
	t.Center, t.SigmaZ = Num(100*c.Center), Num(c.SigmaZ)
	for i, p := range c.Points {
		if at := &t.Points[i]; p.Size > 0 {
			at.Low, at.High = Num(100*p.Limits.Low), Num(100*p.Limits.High)
			if i < mature {
				at.Beyond = p.Beyond
			}
			if at.Beyond != 0 && !slices.Contains(t.Broken, ruleBeyond) {
				t.Broken = append(t.Broken, ruleBeyond)
			}
		}
	}
}

// laneyChart is a u- or p-chart with Laney's correction where the periods scatter by
// more than chance; where they scatter by less the plain limits stay, since a lucky
// calm spell must not make the next ordinary month a signal.
func laneyChart(draw func([]stats.Period, stats.ChartOptions) (stats.Chart, error), periods []stats.Period, mature int) (stats.Chart, error) {
	opt := stats.ChartOptions{Baseline: mature, Width: chartWidth}
	c, err := draw(periods, opt)
	if err != nil || c.SigmaZ <= 1 {
		return c, err
	}
	opt.Laney = true
	return draw(periods, opt)
}

// runs applies the shift and crossings rules about the median of the mature periods.
func (t *TimeChart) runs(mature int) error {
	var values []float64
	for _, p := range t.Points[:mature] {
		if p.Value.Known() {
			values = append(values, float64(p.Value))
		}
	}
	if len(values) < runsNeed {
		return nil
	}
	sorted := slices.Clone(values)
	slices.Sort(sorted)
	median, err := stats.Quantile7(sorted, 0.5)
	if err != nil {
		return err
	}
	r, err := stats.RunsRules(values, median)
	if errors.Is(err, stats.ErrNoData) {
		return nil
	}
	if err != nil {
		return err
	}
	t.Median, t.FalseSignal = Num(median), Num(r.FalseSignal)
	t.LongestRun, t.RunAllowed, t.Crossings, t.CrossNeeded = r.LongestRun, r.LongestAllowed, r.Crossings, r.CrossingsNeeded
	if r.Shift {
		t.Broken = append(t.Broken, ruleShift)
	}
	if r.Few {
		t.Broken = append(t.Broken, ruleCrossings)
	}
	return nil
}
