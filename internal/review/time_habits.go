package review

import (
	"cmp"
	"context"
	"database/sql"
	"errors"
	"math"
	"slices"

	"afterfit/internal/habit"
	"afterfit/internal/stats"
)

// HabitPrefix stands before a habit's id where a chart or a measure is otherwise
// named by an outcome.
const HabitPrefix = "habit:"

// habitSeries are the counts of one habit at one place by number of period.
type habitSeries map[int]stats.Period

// habitPeriods reads every habit's course, in the habit's own unit, for all together
// and for each site.
func (q *asker) habitPeriods(ctx context.Context, kind string) (out map[string]map[groupKey]habitSeries, first, last int, err error) {
	out, first, last = map[string]map[groupKey]habitSeries{}, math.MaxInt, math.MinInt
	err = q.each(ctx, "habit_periods", func(rows *sql.Rows) error {
		var id, site, period string
		var leads bool
		var assessed, present int64
		if err := rows.Scan(&id, &site, &period, &leads, &assessed, &present); err != nil {
			return err
		}
		h, ok := habit.Find(id)
		if !ok || h.Unit == habit.Case && !leads {
			return nil
		}
		at, err := periodNumber(kind, period)
		if err != nil {
			return err
		}
		first, last = min(first, at), max(last, at)
		if out[id] == nil {
			out[id] = map[groupKey]habitSeries{}
		}
		for _, k := range []groupKey{{"all", "all"}, {"site", site}} {
			if out[id][k] == nil {
				out[id][k] = habitSeries{}
			}
			p := out[id][k][at]
			out[id][k][at] = stats.Period{Events: p.Events + float64(present), Size: p.Size + float64(assessed)}
		}
		return nil
	})
	return out, first, last, err
}

// habitsOverTime charts the share with each habit by period of records: every habit
// for all together, and those named for each site as well. What is on a record is
// known at once, so no period is too early to judge. Reads mix_rows.
func (q *asker) habitsOverTime(ctx context.Context, kind string, bySite []string) ([]TimeChart, error) {
	counts, first, last, err := q.habitPeriods(ctx, kind)
	if err != nil {
		return nil, err
	}
	out := []TimeChart{}
	for _, h := range habit.Catalogue {
		for _, k := range placesOf(counts[h.ID]) {
			if k.dimension == "site" && !slices.Contains(bySite, h.ID) {
				continue
			}
			t, err := habitChart(counts[h.ID][k], kind, first, last)
			if err != nil {
				return nil, err
			}
			t.Outcome, t.Dimension, t.Code = HabitPrefix+h.ID, k.dimension, k.code
			out = append(out, t)
		}
	}
	return out, nil
}

// placesOf are all together first, then sites in order.
func placesOf(m map[groupKey]habitSeries) []groupKey {
	var keys []groupKey
	for k := range m {
		keys = append(keys, k)
	}
	slices.SortFunc(keys, func(a, b groupKey) int {
		return cmp.Or(cmp.Compare(a.dimension, b.dimension), cmp.Compare(a.code, b.code))
	})
	return keys
}

// habitChart is a p-chart, with Laney's correction where the periods scatter by more
// than chance. Where nobody shows the habit, or everybody, there is nothing to judge.
func habitChart(s habitSeries, kind string, first, last int) (TimeChart, error) {
	t := TimeChart{Fineness: kind, Broken: []string{}, Center: Num(math.NaN()), Median: Num(math.NaN()), SigmaZ: Num(math.NaN()), FalseSignal: Num(math.NaN()), Query: "habit_periods"}
	periods := make([]stats.Period, last-first+1)
	for i := range periods {
		periods[i] = s[first+i]
		p := TimePoint{Period: periodName(kind, first+i), N: int64(periods[i].Size), Observed: int64(periods[i].Events),
			Expected: Num(math.NaN()), Value: Num(math.NaN()), Low: Num(math.NaN()), High: Num(math.NaN()), Due: 1}
		if p.N > 0 {
			p.Value = Num(100 * periods[i].Events / periods[i].Size)
		}
		t.Points = append(t.Points, p)
	}
	if len(periods) < 2 {
		return t, nil
	}
	c, err := laneyChart(stats.PChart, periods, len(periods))
	if errors.Is(err, stats.ErrNoData) {
		return t, nil
	}
	if err != nil {
		return t, err
	}
	for i := range t.Points {
		t.Points[i].Expected = Num(c.Center * periods[i].Size)
	}
	t.limits(c, len(periods))
	return t, t.runs(len(periods))
}
