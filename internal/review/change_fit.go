package review

import (
	"fmt"
	"math"
	"slices"

	"afterfit/internal/stats"
)

const (
	contrastedMethod = "difference in differences: Poisson model on sites and periods, expected from case mix as offset, limits robust for patients"
	straightMethod   = "step against a straight course on the log scale: Poisson model on sites, expected from case mix as offset, limits robust for patients"
	rawMethod        = "observed over expected times the service's mean, limits robust for patients"
)

// measure estimates a change in these cells and adds it to the change.
func (q *asker) measure(c *change, cells []changeCell, pairs []changePair, id, unit string, mean float64) (err error) {
	c.cells = cells
	e := ChangeEstimate{Measure: id, Placebos: []Placebo{}, Series: []ChangeSeries{}, Warnings: []string{}}
	side := func(placed, after bool) func(changeCell) bool {
		return func(x changeCell) bool { return c.placed(x.site) == placed && (x.period >= c.from) == after }
	}
	for i, after := range []bool{false, true} {
		e.Places[i] = q.sideFigure(cells, pairs, side(true, after), unit, mean)
		e.Others[i] = q.sideFigure(cells, pairs, side(false, after), unit, mean)
	}
	if e.Ratio, err = q.step(c, cells, pairs, c.from); err != nil {
		return err
	}
	for _, from := range c.placeboDates(cells) {
		early, kept := before(cells, pairs, c.from)
		r, err := q.step(c, early, kept, from)
		if err != nil {
			return err
		}
		p := Placebo{From: periodName(c.kind, from), Ratio: r}
		e.Placebos = append(e.Placebos, p)
		if r.TooFew == "" && (r.Low > 1 || r.High < 1) {
			e.Warnings = append(e.Warnings, fmt.Sprintf("At %s, when nothing was changed, the same sum shows a step too (%.2f, %.2f to %.2f): the sites were drifting apart before.", p.From, float64(r.Value), float64(r.Low), float64(r.High)))
		}
	}
	e.Series = c.series(cells, mean)
	c.estimates = append(c.estimates, e)
	return nil
}

// before keeps the cells earlier than a period and the pairs among them.
func before(cells []changeCell, pairs []changePair, from int) ([]changeCell, []changePair) {
	at := make([]int, len(cells))
	var kept []changeCell
	for i, c := range cells {
		at[i] = -1
		if c.period < from {
			at[i] = len(kept)
			kept = append(kept, c)
		}
	}
	var out []changePair
	for _, p := range pairs {
		if at[p.a] >= 0 && at[p.b] >= 0 {
			p.a, p.b = at[p.a], at[p.b]
			out = append(out, p)
		}
	}
	return kept, out
}

// placeboDates are a quarter of a year apart, half a year or more from the first
// period and from the change.
func (c *change) placeboDates(cells []changeCell) []int {
	if len(cells) == 0 {
		return nil
	}
	first := slices.MinFunc(cells, func(a, b changeCell) int { return a.period - b.period }).period
	gap, step := max(2, perYear[c.kind]/2), max(1, perYear[c.kind]/4)
	var out []int
	for at := c.from - gap; at >= first+gap; at -= step {
		out = append(out, at)
	}
	slices.Reverse(out)
	return out
}

// residual is the sum over patients of the product of their residuals in two cells.
func (p changePair) residual(a, b float64) float64 {
	return p.oo - b*p.oe - a*p.eo + a*b*p.ee
}

// sideFigure is observed over expected of the cells kept, times mean and 100.
func (q *asker) sideFigure(cells []changeCell, pairs []changePair, keep func(changeCell) bool, unit string, mean float64) Estimate {
	e := Estimate{Value: Num(math.NaN()), Low: Num(math.NaN()), High: Num(math.NaN()), Level: q.s.Level, Unit: unit, Method: rawMethod, Query: "change_cells"}
	expected, patients := 0.0, int64(0)
	for _, c := range cells {
		if keep(c) {
			e.N, e.Events, expected, patients = e.N+c.n, e.Events+c.observed, expected+c.expected, patients+c.patients
		}
	}
	e.TooFew = q.tooFew(e.N)
	if expected == 0 {
		return e
	}
	theta := float64(e.Events) / expected
	e.Value = Num(100 * mean * theta)
	if e.Events == 0 || patients < 2 {
		return e
	}
	squares := 0.0
	for _, p := range pairs {
		if keep(cells[p.a]) && keep(cells[p.b]) {
			squares += p.residual(theta, theta)
		}
	}
	g := float64(patients)
	half := stats.TwoSidedZ(q.s.Level) * math.Sqrt(squares*g/(g-1)) / float64(e.Events)
	e.Low, e.High = e.Value*Num(math.Exp(-half)), e.Value*Num(math.Exp(half))
	return e
}

// step is the factor by which the places moved from a period on.
func (q *asker) step(c *change, cells []changeCell, pairs []changePair, from int) (Estimate, error) {
	e := Estimate{Value: Num(math.NaN()), Low: Num(math.NaN()), High: Num(math.NaN()), Level: q.s.Level, Unit: "times", Method: contrastedMethod, Query: "change_pairs"}
	data, used, contrasted := c.stepDesign(cells, from)
	if !contrasted {
		e.Method = straightMethod
	}
	var patients int64
	var events [2]int64 // where changed, before and after
	for _, i := range used {
		x := cells[i]
		e.N, e.Events, patients = e.N+x.n, e.Events+x.observed, patients+x.patients
		if c.placed(x.site) {
			events[one(x.period >= from)] += x.observed
		}
	}
	if few := min(events[0], events[1]); few < q.s.MinRemakes || patients < 30 {
		e.TooFew = fmt.Sprintf("Too few to tell: %d events before and %d after, %d or more are needed of both, and 30 patients.", events[0], events[1], q.s.MinRemakes)
		return e, nil
	}
	fit, err := stats.FitGLM(stats.Poisson, data)
	if err != nil {
		return e, err
	}
	at := len(data.Names) - 1
	if math.IsNaN(fit.Coef[at]) || len(fit.Separated) > 0 {
		e.TooFew = "Too few to tell: before and after cannot be told apart from the course of time in these periods."
		return e, nil
	}
	variance := stepVariance(fit, data, cells, used, pairs, at)
	g := float64(patients)
	half := stats.TwoSidedZ(q.s.Level) * math.Sqrt(variance*g/(g-1))
	e.Value, e.Low, e.High = Num(math.Exp(fit.Coef[at])), Num(math.Exp(fit.Coef[at]-half)), Num(math.Exp(fit.Coef[at]+half))
	e.Warnings = cautions(fit.Warnings)
	return e, nil
}

func one(b bool) int {
	if b {
		return 1
	}
	return 0
}

// stepDesign has a column for every site, for every period but the first (where other
// sites are there to tell it from the change; a straight course otherwise) and, last,
// for the changed sites from the period on. Sites and periods without an event say
// nothing of the step beside such columns and are left out.
func (c *change) stepDesign(cells []changeCell, from int) (data stats.Patterns, used []int, contrasted bool) {
	inSite, inPeriod := map[string]int64{}, map[int]int64{}
	places, others := false, false
	for _, x := range cells {
		inSite[x.site] += x.observed
		inPeriod[x.period] += x.observed
		places, others = places || c.placed(x.site), others || !c.placed(x.site)
	}
	contrasted = places && others
	var sites []string
	var periods []int
	for i, x := range cells {
		if inSite[x.site] == 0 || contrasted && inPeriod[x.period] == 0 || x.expected == 0 {
			continue
		}
		used = append(used, i)
		if !slices.Contains(sites, x.site) {
			sites = append(sites, x.site)
		}
		if !slices.Contains(periods, x.period) {
			periods = append(periods, x.period)
		}
	}
	slices.Sort(periods)
	for _, s := range sites {
		data.Names = append(data.Names, "site="+s)
	}
	if contrasted {
		for _, p := range periods[min(1, len(periods)):] {
			data.Names = append(data.Names, "period="+periodName(c.kind, p))
		}
	} else {
		data.Names = append(data.Names, "time")
	}
	data.Names = append(data.Names, "step")
	for _, i := range used {
		x := cells[i]
		row := make([]float64, len(data.Names))
		row[slices.Index(sites, x.site)] = 1
		if j := slices.Index(periods, x.period); !contrasted {
			row[len(sites)] = float64(x.period-periods[0]) / float64(perYear[c.kind])
		} else if j > 0 {
			row[len(sites)+j-1] = 1
		}
		row[len(row)-1] = float64(one(c.placed(x.site) && x.period >= from))
		data.X = append(data.X, row...)
		data.Y = append(data.Y, float64(x.observed))
		data.Offset = append(data.Offset, math.Log(x.expected))
	}
	return data, used, contrasted
}

// stepVariance is the sandwich of the step's coefficient, clustered by patient: each
// cell's pull on the coefficient times the products of residuals that patients share.
func stepVariance(fit *stats.Fit, data stats.Patterns, cells []changeCell, used []int, pairs []changePair, at int) float64 {
	bread := fit.ModelCovariance().Matrix
	k := len(data.Names)
	pull, theta := make([]float64, len(cells)), make([]float64, len(cells))
	for r, i := range used {
		eta := 0.0
		for j := range k {
			x := data.X[r*k+j]
			if b := fit.Coef[j]; !math.IsNaN(b) {
				eta += x * b
				pull[i] += bread.At(at, j) * x
			}
		}
		theta[i] = math.Exp(eta)
	}
	sum := 0.0
	for _, p := range pairs {
		sum += pull[p.a] * pull[p.b] * p.residual(theta[p.a], theta[p.b])
	}
	return sum
}

// series are the courses of both sides for drawing.
func (c *change) series(cells []changeCell, mean float64) []ChangeSeries {
	out := []ChangeSeries{}
	for _, side := range []struct {
		name   string
		placed bool
	}{{"places", true}, {"others", false}} {
		by := map[int]*TimePoint{}
		var order []int
		for _, x := range cells {
			if c.placed(x.site) != side.placed {
				continue
			}
			p := by[x.period]
			if p == nil {
				p = &TimePoint{Period: periodName(c.kind, x.period), Low: Num(math.NaN()), High: Num(math.NaN()), Due: Num(math.NaN())}
				by[x.period], order = p, append(order, x.period)
			}
			p.N, p.Observed, p.Expected = p.N+x.n, p.Observed+x.observed, p.Expected+Num(x.expected)
		}
		slices.Sort(order)
		s := ChangeSeries{Side: side.name, Points: []TimePoint{}}
		for _, at := range order {
			p := by[at]
			p.Value = Num(100 * mean * float64(p.Observed) / float64(p.Expected))
			s.Points = append(s.Points, *p)
		}
		if len(s.Points) > 0 {
			out = append(out, s)
		}
	}
	return out
}
