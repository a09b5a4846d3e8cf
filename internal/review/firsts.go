package review

import (
	"context"
	"database/sql"
	"fmt"
	"math"

	"afterfit/internal/stats"
)

// first describes an outcome that counts once: has it happened within the window?
type first struct {
	outcome string
	days    int
	rare    bool // groups with few events are too few to compare
}

func (q *asker) firsts() []first {
	return []first{
		{Ulcer, q.s.SoreDays, false},
		{Display, q.s.ComplaintDays, false},
		{Vertical, q.s.ComplaintDays, false},
		{Remake, q.s.RemakeDays, true},
		{Reline, q.s.RemakeDays, true},
	}
}

const firstMethod = "cumulative incidence (Aalen-Johansen) with death competing, log-log limits robust for patients with several dentures"

// Curves show limits at many days; those of the pointwise figures are the robust ones.
const (
	untouchedMethod = "Kaplan-Meier, Greenwood, log-log limits; dentures of one patient counted as independent"
	incidenceMethod = "cumulative incidence (Aalen-Johansen) with death competing, log-log limits; dentures of one patient counted as independent"
)

// firstCounts are one group's counts by day: cause 0 is the outcome, cause 1 death.
type firstCounts struct {
	rows            []stats.CauseCount
	n, events, days int64
}

// countFirsts counts an outcome for the groups in group_rows.
func (q *asker) countFirsts(ctx context.Context, outcome string, days int) (map[groupKey]*firstCounts, []groupKey, error) {
	if err := q.exec(ctx, "first_units", outcome, days); err != nil {
		return nil, nil, err
	}
	groups := map[groupKey]*firstCounts{}
	var order []groupKey
	err := q.each(ctx, "group_first_counts", func(rows *sql.Rows) error {
		var k groupKey
		var day, events, deaths, censored int64
		if err := rows.Scan(&k.dimension, &k.code, &day, &events, &deaths, &censored); err != nil {
			return err
		}
		g := groups[k]
		if g == nil {
			g = &firstCounts{}
			groups[k], order = g, append(order, k)
		}
		g.rows = append(g.rows, stats.CauseCount{Time: float64(day), Events: []int64{events, deaths}, Censored: censored})
		n := events + deaths + censored
		g.n, g.events, g.days = g.n+n, g.events+events, g.days+n*min(day, int64(days))
		return nil
	})
	return groups, order, err
}

// firstData is what an outcome's estimates are made of, for every group in group_rows.
type firstData struct {
	groups   map[groupKey]*firstCounts
	order    []groupKey
	pairs    map[groupKey][]unitPair
	patients map[groupKey]int64
}

// firstData counts one outcome. How many patients stand behind the groups is the same
// for every outcome, so that it is asked for once and handed in.
func (q *asker) firstData(ctx context.Context, f first, patients map[groupKey]int64) (*firstData, error) {
	d := &firstData{pairs: map[groupKey][]unitPair{}, patients: patients}
	var err error
	if d.groups, d.order, err = q.countFirsts(ctx, f.outcome, f.days); err != nil {
		return nil, err
	}
	pairs, err := q.pairs(ctx, "first_pairs")
	if err != nil {
		return nil, err
	}
	for dimension, all := range pairs {
		for _, p := range all {
			k := groupKey{dimension, p.codeA}
			d.pairs[k] = append(d.pairs[k], p)
		}
	}
	return d, nil
}

// firstEstimates answers one outcome for every group in group_rows.
func (q *asker) firstEstimates(ctx context.Context, f first, patients map[groupKey]int64) (map[groupKey]Estimate, []groupKey, error) {
	d, err := q.firstData(ctx, f, patients)
	if err != nil {
		return nil, nil, err
	}
	out, err := q.firstOf(f, d)
	return out, d.order, err
}

// firstOf estimates every group.
func (q *asker) firstOf(f first, d *firstData) (map[groupKey]Estimate, error) {
	out := make(map[groupKey]Estimate, len(d.groups))
	for _, k := range d.order {
		e, err := q.firstEstimate(f, k, d.groups[k], d.pairs[k], d.patients[k])
		if err != nil {
			return nil, err
		}
		out[k] = e
	}
	return out, nil
}

// firstEstimate estimates one group.
func (q *asker) firstEstimate(f first, k groupKey, g *firstCounts, pairs []unitPair, patients int64) (Estimate, error) {
	return q.firstEstimateBy(f, k, g, patients, func(w weighted) (float64, error) {
		return clusterVariance([]string{k.code}, map[string]weighted{k.code: w}, pairs, patients)
	})
}

// firstEstimateBy estimates one group, whose variance is made of its influences.
func (q *asker) firstEstimateBy(f first, k groupKey, g *firstCounts, patients int64, variance func(weighted) (float64, error)) (Estimate, error) {
	e := Estimate{Level: q.s.Level, N: g.n, Events: g.events, Days: g.days, Unit: "%", Method: firstMethod, Query: statementBehind(f.outcome), TooFew: q.tooFew(g.n)}
	if e.TooFew == "" && f.rare && k.dimension != "all" && g.events < q.s.MinRemakes {
		e.TooFew = fmt.Sprintf("Too few to tell: %d of %d, %d or more are needed.", g.events, g.n, q.s.MinRemakes)
	}
	point, iv, err := g.robustAt(f.days, q.s.Level, variance)
	if err != nil {
		return e, fmt.Errorf("%s, %s %s: %w", f.outcome, k.dimension, k.code, err)
	}
	e.Method += fewClusters(patients)
	e.Warnings = fewPatients(patients)
	e.Value, e.Low, e.High = Num(100*point.Incidence[0]), Num(100*iv.Low), Num(100*iv.High)
	return e, nil
}

// at is the cumulative incidence of the outcome at the end of the window.
func (g *firstCounts) at(days int) (stats.IncidencePoint, error) {
	curve, err := stats.CumulativeIncidence(g.rows)
	if err != nil {
		return stats.IncidencePoint{}, err
	}
	point, _ := curve.At(float64(days))
	return point, nil
}

// robustAt is the incidence at the end of the window with limits of the variance given,
// which may allow any dependence between a patient's dentures.
func (g *firstCounts) robustAt(days int, level float64, variance func(weighted) (float64, error)) (stats.IncidencePoint, stats.Interval, error) {
	curve, err := stats.Incidences(g.rows)
	if err != nil {
		return stats.IncidencePoint{}, stats.Interval{}, err
	}
	point, _ := curve.At(float64(days))
	w, err := g.influences(days, 1)
	if err != nil {
		return point, stats.Interval{}, err
	}
	v, err := variance(w)
	if err != nil {
		return point, stats.Interval{}, err
	}
	point.Variance = []float64{v, math.NaN()}
	iv, err := point.Limits(0, level)
	return point, iv, err
}

// curves are the step functions of time to first adjustment and to remake.
func (q *asker) curves(f *cohortFirsts) ([]Curve, error) {
	out := []Curve{}
	adjust, err := f.curvesOf(firstAdjustment)
	if err != nil {
		return nil, err
	}
	remade, err := f.curvesOf(Remake)
	if err != nil {
		return nil, err
	}
	for _, k := range []groupKey{{"all", "all"}, {"arch", "upper"}, {"arch", "lower"}} {
		if g := adjust[k]; g != nil {
			c, err := g.untouched(k.code, q.s.AdjustmentDays, q.s.Level)
			if err != nil {
				return nil, err
			}
			out = append(out, c)
		}
		if g := remade[k]; g != nil {
			c, err := g.incidence(k.code, q.s.RemakeDays, q.s.Level)
			if err != nil {
				return nil, err
			}
			out = append(out, c)
		}
	}
	return out, nil
}

// untouched is the share not yet adjusted; death and the end of follow-up censor.
func (g *firstCounts) untouched(group string, days int, level float64) (Curve, error) {
	c := Curve{Outcome: firstAdjustment, Group: group, Method: untouchedMethod, Query: statementBehind(firstAdjustment), N: g.n}
	rows := make([]stats.TimeCount, len(g.rows))
	for i, r := range g.rows {
		rows[i] = stats.TimeCount{Time: r.Time, Events: r.Events[0], Censored: r.Events[1] + r.Censored}
	}
	curve, err := stats.KaplanMeier(rows)
	if err != nil {
		return c, err
	}
	c.Points = []Point{{Day: 0, Y: 1, Low: 1, High: 1, AtRisk: g.n}}
	for _, p := range curve.Points {
		if p.Time > float64(days) || p.Events == 0 {
			continue
		}
		iv, err := p.Limits(level, stats.LogLog)
		if err != nil {
			return c, err
		}
		c.Points = append(c.Points, Point{int64(p.Time), Num(p.Survival), Num(iv.Low), Num(iv.High), p.AtRisk})
	}
	return c, nil
}

// incidence is the share that had the outcome, with death competing.
func (g *firstCounts) incidence(group string, days int, level float64) (Curve, error) {
	c := Curve{Outcome: Remake, Group: group, Method: incidenceMethod, Query: statementBehind(Remake), N: g.n}
	curve, err := stats.CumulativeIncidence(g.rows)
	if err != nil {
		return c, err
	}
	c.Points = []Point{{Day: 0, AtRisk: g.n}}
	before := 0.0
	for _, p := range curve.Points {
		if p.Time > float64(days) || p.Incidence[0] == before {
			continue
		}
		before = p.Incidence[0]
		iv, err := p.Limits(0, level)
		if err != nil {
			return c, err
		}
		c.Points = append(c.Points, Point{int64(p.Time), Num(p.Incidence[0]), Num(iv.Low), Num(iv.High), p.AtRisk})
	}
	return c, nil
}
