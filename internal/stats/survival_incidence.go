package stats

import (
	"fmt"
	"math"
	"slices"
	"sort"
)

// IncidencePoint is the cumulative incidence of each cause from Time to the next point.
type IncidencePoint struct {
	Time   float64
	AtRisk int64
	// Survival is the share still without any event.
	Survival float64
	// Incidence has the share that had each cause first. With Survival it adds to 1.
	Incidence []float64
	// Variance of each Incidence by the infinitesimal jackknife (the sum of squared
	// influences of the units), DeltaVariance by Aalen's formula with the tie factor
	// 1-(d-1)/(n-1). They agree closely where many are at risk.
	Variance, DeltaVariance []float64
}

// IncidenceCurve has one point for each distinct time.
type IncidenceCurve struct {
	Points []IncidencePoint
	N      int64
}

// CumulativeIncidence is the Aalen-Johansen estimate for competing causes: the incidence
// of cause k grows at each time by (survival before it) times (events of cause k)/(at risk).
// A unit censored at the time of an event counts as at risk for it. Variances take units
// as independent; for clusters of units sum IncidenceInfluence within each, square, and
// sum over clusters.
// References: Aalen & Johansen 1978, Scand J Stat 5:141; Aalen 1978, Ann Stat 6:534;
// Gray 1988, Ann Stat 16:1141.
func CumulativeIncidence(rows []CauseCount) (*IncidenceCurve, error) {
	curve, merged, err := incidences(rows)
	if err != nil {
		return nil, err
	}
	for i := range curve.Points {
		p := &curve.Points[i]
		p.Variance, p.DeltaVariance = make([]float64, len(p.Incidence)), make([]float64, len(p.Incidence))
	}
	for k := range merged[0].Events {
		curve.addJackknife(merged, k)
		curve.addDelta(merged, k)
	}
	return curve, nil
}

// Incidences is CumulativeIncidence without its variances, which are NaN: they take time that
// grows with the square of the number of times.
func Incidences(rows []CauseCount) (*IncidenceCurve, error) {
	curve, _, err := incidences(rows)
	if err != nil {
		return nil, err
	}
	unknown := orConstant(nil, len(curve.Points[0].Incidence), math.NaN())
	for i := range curve.Points {
		curve.Points[i].Variance, curve.Points[i].DeltaVariance = unknown, unknown
	}
	return curve, nil
}

func incidences(rows []CauseCount) (*IncidenceCurve, []CauseCount, error) {
	merged, err := mergeCauses(rows)
	if err != nil {
		return nil, nil, err
	}
	curve := &IncidenceCurve{Points: make([]IncidencePoint, 0, len(merged))}
	for _, r := range merged {
		curve.N += r.Censored + sumCounts(r.Events)
	}
	risk, survival := curve.N, 1.0
	incidence := make([]float64, len(merged[0].Events))
	for _, r := range merged {
		for k, e := range r.Events {
			incidence[k] += survival * float64(e) / float64(risk)
		}
		d := sumCounts(r.Events)
		survival *= float64(risk-d) / float64(risk)
		curve.Points = append(curve.Points, IncidencePoint{Time: r.Time, AtRisk: risk, Survival: survival, Incidence: slices.Clone(incidence)})
		risk -= d + r.Censored
	}
	return curve, merged, nil
}

func sumCounts(counts []int64) int64 {
	var n int64
	for _, c := range counts {
		n += c
	}
	return n
}

// influence is that of one kind of unit on the survival (as a share of it) and on the
// incidence of one cause.
type influence struct {
	count               float64
	survival, incidence float64
}

// addJackknife fills Variance of cause k. A unit that left is frozen except for what its
// influence on survival does to later increments, so it is enough to carry one pair of
// numbers for each (time, way of leaving).
func (c *IncidenceCurve) addJackknife(rows []CauseCount, k int) {
	var gone []influence
	var staying influence
	before := 1.0
	for i, r := range rows {
		n, d, dk := float64(c.Points[i].AtRisk), float64(sumCounts(r.Events)), float64(r.Events[k])
		step := before * dk / n
		for j := range gone {
			gone[j].incidence += gone[j].survival * step
		}
		move := func(own, ofCause float64, count int64) influence {
			u := influence{count: float64(count)}
			u.incidence = staying.incidence + staying.survival*step + before*(ofCause-dk/n)/n
			if d < n {
				u.survival = staying.survival - (own-d/n)/(n-d)
			} else {
				u.survival = staying.survival
			}
			return u
		}
		gone = append(gone, move(1, 1, r.Events[k]), move(1, 0, sumCounts(r.Events)-r.Events[k]))
		staying = move(0, 0, r.Censored)
		gone = append(gone, staying)
		before = c.Points[i].Survival
		left := c.Points[i].AtRisk - sumCounts(r.Events) - r.Censored
		sum := float64(left) * staying.incidence * staying.incidence
		for _, u := range gone {
			sum += u.count * u.incidence * u.incidence
		}
		c.Points[i].Variance[k] = sum
	}
}

// addDelta fills DeltaVariance of cause k,
//
//	sum over s <= t of S(s-)^2 w/n^2 (dk (1-g)^2 + do g^2),  g = (F(t)-F(s))/S(s),
//
// with dk events of the cause, do of the others, and w the tie factor of each. The square is
// expanded in F(t) so that one pass does all times.
func (c *IncidenceCurve) addDelta(rows []CauseCount, k int) {
	var a, b, q float64 // coefficients of 1, F(t), F(t)^2
	before := 1.0
	for i, r := range rows {
		p := c.Points[i]
		n, f := float64(p.AtRisk), p.Incidence[k]
		inverse := 0.0
		if p.Survival > 0 {
			inverse = 1 / p.Survival
		}
		add := func(events int64, own float64) {
			if events == 0 {
				return
			}
			w := before * before * tieFactor(float64(events), n) * float64(events) / (n * n)
			base := own + f*inverse
			a += w * base * base
			b -= 2 * w * base * inverse
			q += w * inverse * inverse
		}
		add(r.Events[k], 1)
		if p.Survival > 0 {
			add(sumCounts(r.Events)-r.Events[k], 0)
		}
		p.DeltaVariance[k] = math.Max(0, a+b*f+q*f*f)
		before = p.Survival
	}
}

// tieFactor is the finite-population factor for d tied events among n.
func tieFactor(d, n float64) float64 {
	if d <= 1 {
		return 1
	}
	return 1 - (d-1)/(n-1)
}

// At returns the point at time t. Beyond follow-up the last value comes with a warning
// unless nobody was left. At NaN nothing is known, and every number is NaN.
func (c *IncidenceCurve) At(t float64) (IncidencePoint, []Warning) {
	if math.IsNaN(t) {
		unknown := orConstant(nil, len(c.Points[0].Incidence), t)
		return IncidencePoint{Time: t, Survival: t, Incidence: unknown, Variance: unknown, DeltaVariance: unknown}, nil
	}
	i := sort.Search(len(c.Points), func(i int) bool { return !(c.Points[i].Time <= t) })
	if i == 0 {
		k := len(c.Points[0].Incidence)
		return IncidencePoint{Time: t, AtRisk: c.N, Survival: 1, Incidence: make([]float64, k),
			Variance: make([]float64, k), DeltaVariance: make([]float64, k)}, nil
	}
	p := c.Points[i-1]
	if end := c.Points[len(c.Points)-1].Time; t > end && p.Survival > 0 {
		return p, []Warning{beyondFollowUp(t, end)}
	}
	return p, nil
}

// Limits returns log-log limits for the incidence of a cause from its jackknife variance: F to the
// power exp(-+ z se/(F log F)). With no event of the cause so far they run from 0 to the exact
// limit for none among those at risk at the point, which is wide rather than wrong.
func (p IncidencePoint) Limits(cause int, level float64) (Interval, error) {
	if cause < 0 || cause >= len(p.Incidence) {
		return Interval{}, fmt.Errorf("cause %d of %d: %w", cause, len(p.Incidence), ErrBadInput)
	}
	if err := checkLevel(level); err != nil {
		return Interval{}, err
	}
	f := p.Incidence[cause]
	switch {
	case math.IsNaN(f):
		return Interval{0, 1}, nil
	case f <= 0:
		return Interval{0, 1 - zeroOf(p.AtRisk, level)}, nil
	case f >= 1:
		return Interval{zeroOf(p.AtRisk, level), 1}, nil
	}
	return logLogLimits(f, math.Sqrt(p.Variance[cause]), intervalZ(level)), nil
}
