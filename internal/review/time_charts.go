package review

import (
	"cmp"
	"errors"
	"math"
	"slices"

	"afterfit/internal/stats"
)

// timeSum is what one period brought.
type timeSum struct {
	n, observed         int64
	expectedE9, shareE9 int64 // in billionths
	expected, share     float64
}

// timeSeries holds the periods of one unit, gaps filled with empty ones.
type timeSeries struct {
	first int // number of the first period
	sums  []timeSum
}

// timeSums are the courses of the service, of clinicians and of sites, in the order of
// their codes; all have the service's periods.
func (m *mixExpected) timeSums(kind string) (map[groupKey]*timeSeries, []groupKey, error) {
	low, high := math.MaxInt, math.MinInt
	number := make([]int, len(m.cells))
	for i, c := range m.cells {
		if c.period == "" {
			continue
		}
		var err error
		if number[i], err = periodNumber(kind, c.period); err != nil {
			return nil, nil, err
		}
		low, high = min(low, number[i]), max(high, number[i])
	}
	out := map[groupKey]*timeSeries{}
	add := func(k groupKey, cell int) {
		if out[k] == nil {
			out[k] = &timeSeries{first: low, sums: make([]timeSum, high-low+1)}
		}
		out[k].sums[number[cell]-low].add(m.sums[cell])
	}
	for i, c := range m.cells {
		if c.period != "" {
			add(groupKey{"all", "all"}, i)
			for k, dimension := range unitDimensions[:2] { // laboratories have no course
				add(groupKey{dimension, m.units[k].levels[c.unit[k]]}, i)
			}
		}
	}
	order := make([]groupKey, 0, len(out))
	for k, s := range out {
		s.close()
		order = append(order, k)
	}
	slices.SortFunc(order, func(a, b groupKey) int {
		return cmp.Or(cmp.Compare(a.dimension, b.dimension), cmp.Compare(a.code, b.code))
	})
	return out, order, nil
}

func (s *timeSum) add(o mixSum) {
	s.n, s.observed, s.expectedE9, s.shareE9 = s.n+o.n, s.observed+o.y, s.expectedE9+o.e, s.shareE9+o.share
}

// close turns the sums of billionths, which are exact, into numbers.
func (s *timeSeries) close() {
	for i := range s.sums {
		x := &s.sums[i]
		x.expected, x.share = float64(x.expectedE9)/1e9, float64(x.shareE9)/1e9
	}
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
