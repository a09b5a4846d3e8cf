package review

import (
	"cmp"
	"context"
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

// habitPeriods counts every habit's course, in the habit's own unit, for all together and
// for each site. A case is counted by one of its dentures: the upper, or the lower where
// there is no upper.
func (d *mixData) habitPeriods(ctx context.Context, kind string) (out map[string]map[groupKey]habitSeries, first, last int, err error) {
	out, first, last = map[string]map[groupKey]habitSeries{}, math.MaxInt, math.MinInt
	number := make([]int, len(d.places))
	for i, p := range d.places {
		if number[i], err = periodNumber(kind, p.period); err != nil {
			return nil, 0, 0, err
		}
	}
	places, courses := d.denturePlaces(), make([]map[groupKey]habitSeries, len(habit.Catalogue))
	err = onAllCores(ctx, len(courses), func(i int) error {
		courses[i] = d.habitCourse(habit.Catalogue[i], places[habit.Catalogue[i].Unit], number)
		return nil
	})
	for i, by := range courses {
		if len(by) == 0 {
			continue
		}
		out[habit.Catalogue[i].ID] = by
		for at := range by[groupKey{"all", "all"}] {
			first, last = min(first, at), max(last, at)
		}
	}
	return out, first, last, err
}

// denturePlaces are the places of the dentures by the unit in which a habit is counted, -1 for
// those that have none or do not stand for their case.
func (d *mixData) denturePlaces() map[habit.Unit][]int32 {
	own, ofCase := make([]int32, d.d.n), make([]int32, d.d.n)
	for i, cell := range d.cell {
		own[i] = int32(d.cells[cell].place)
		if ofCase[i] = own[i]; !d.d.leads(i) {
			ofCase[i] = -1
		}
	}
	return map[habit.Unit][]int32{habit.Denture: own, habit.Case: ofCase}
}

// habitCourse counts one habit by the dentures' places; number gives the period of each place.
func (d *mixData) habitCourse(h habit.Habit, places []int32, number []int) map[groupKey]habitSeries {
	assessed, present := make([]int64, len(d.places)), make([]int64, len(d.places))
	seen := make([]bool, len(d.places))
	for i, on := range d.d.habits[h.Column()] {
		place := places[i]
		if place < 0 {
			continue
		}
		seen[place] = true
		if side := sideOf(on); side != notAssessable {
			assessed[place], present[place] = assessed[place]+1, present[place]+int64(side)
		}
	}
	by := map[groupKey]habitSeries{}
	for i, p := range d.places {
		if !seen[i] {
			continue
		}
		for _, k := range []groupKey{{"all", "all"}, {"site", p.site}} {
			if by[k] == nil {
				by[k] = habitSeries{}
			}
			s := by[k][number[i]]
			by[k][number[i]] = stats.Period{Events: s.Events + float64(present[i]), Size: s.Size + float64(assessed[i])}
		}
	}
	return by
}

// leads reports whether denture i stands for its case.
func (d *dentures) leads(i int) bool { return d.upper(i) || d.row(int64(d.no[i])+1) < 0 }

// habitsOverTime charts the share with each habit by period of records: every habit
// for all together, and those named for each site as well. What is on a record is
// known at once, so no period is too early to judge.
func (q *asker) habitsOverTime(ctx context.Context, d *mixData, kind string, bySite []string) ([]TimeChart, error) {
	counts, first, last, err := d.habitPeriods(ctx, kind)
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
