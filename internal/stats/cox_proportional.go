package stats

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// TimeTransform is the scale of time on which a drift of a coefficient is sought.
type TimeTransform int

// Transforms: one minus the Kaplan-Meier curve of all observations just before the
// time (the default of R's cox.zph), time itself, and its logarithm.
const (
	TransformKM TimeTransform = iota
	TransformIdentity
	TransformLog
)

// CoefPoint is the smoothable estimate of the coefficients at one event time: the
// coefficients plus the mean scaled Schoenfeld residual of the Events observations
// with the event then. Coef follows Names, NaN for aliased columns.
type CoefPoint struct {
	Stratum              int
	Time, Scaled, Events float64
	Coef                 []float64
}

// Proportionality is the check that hazards are proportional. Column tests follow
// Names (NaN for aliased columns); Global tests all columns together.
type Proportionality struct {
	Columns  []JointTest
	Global   JointTest
	Points   []CoefPoint
	Warnings []Warning
}

// Proportionality tests each coefficient for a drift over g(time), by the score test
// for adding x*g(t) to the model (Grambsch & Therneau 1994; the exact form that R's
// cox.zph has used since survival 3.0), with one degree of freedom a column. It uses
// the model's own information, not a cluster-robust one. TransformLog needs positive
// event times. With all events at one time there is nothing to test: ErrNoData.
// Under monotone likelihood or with fewer than 10 events a column it carries Warning
// "shaky".
func (f *CoxFit) Proportionality(transform TimeTransform) (*Proportionality, error) {
	g, err := f.transformed(transform)
	if err != nil {
		return nil, err
	}
	squares := make([]float64, len(g))
	for t, v := range g {
		squares[t] = v * v
	}
	q, u := f.linear.basis.q, f.risk.score(g)
	cross, own := f.risk.information(f.index, q, g), f.risk.information(f.index, q, squares)
	// The information on the drift when the coefficients themselves are free.
	var half, taken mat.Dense
	half.Mul(cross, f.linear.covQ)
	taken.Mul(&half, cross)
	for a := range u {
		for b := a; b < len(u); b++ {
			own.SetSym(a, b, own.At(a, b)-(taken.At(a, b)+taken.At(b, a))/2)
		}
	}
	out := &Proportionality{Points: f.coefPoints(g)}
	if out.Global, err = driftTest(u, own); err != nil {
		return nil, err
	}
	out.Columns = f.driftByColumn(u, own)
	if m := float64(len(u)); len(f.Monotone) > 0 || f.Events < eventsPerColumn*m {
		out.Warnings = []Warning{{"shaky", fmt.Sprintf("%.0f events for %.0f columns: the check of proportional hazards can miss much; collect at least %.0f", f.Events, m, eventsPerColumn*m)}}
	}
	return out, nil
}

func driftTest(u []float64, info *mat.SymDense) (JointTest, error) {
	inv, ok := inverseSym(info)
	if !ok {
		return JointTest{}, fmt.Errorf("%w: a drift over time cannot be told from the model", ErrNoData)
	}
	v := mat.NewVecDense(len(u), u)
	return chiSquareTest(mat.Inner(v, inv, v), len(u)), nil
}

// driftByColumn carries score and information to the columns, each on its own.
func (f *CoxFit) driftByColumn(u []float64, info *mat.SymDense) []JointTest {
	out := make([]JointTest, len(f.Names))
	for j := range out {
		out[j] = JointTest{Statistic: math.NaN(), DF: 1, DF2: math.Inf(1), P: math.NaN()}
	}
	var r mat.Dense
	if r.Inverse(f.linear.basis.rinv) != nil {
		return out
	}
	for k, j := range f.linear.basis.kept {
		// Column j is the basis times the k-th column of R.
		along := r.ColView(k)
		s := mat.Dot(along, mat.NewVecDense(len(u), u))
		out[j] = chiSquareTest(s*s/mat.Inner(along, info, along), 1)
	}
	return out
}

// transformed is g at every event time, centred over the events.
func (f *CoxFit) transformed(transform TimeTransform) ([]float64, error) {
	g := slices.Clone(f.index.times)
	switch transform {
	case TransformIdentity:
	case TransformLog:
		for t, v := range g {
			if !(v > 0) {
				return nil, fmt.Errorf("%w: logarithm of event time %g", ErrBadInput, v)
			}
			g[t] = math.Log(v)
		}
	case TransformKM:
		f.pooledCurve(g)
	default:
		return nil, fmt.Errorf("%w: transform %d", ErrBadInput, transform)
	}
	if slices.Min(g) == slices.Max(g) {
		return nil, fmt.Errorf("%w: all events at one time", ErrNoData)
	}
	mean := dot(g, f.index.deaths) / f.Events
	for t := range g {
		g[t] -= mean
	}
	return g, nil
}

// pooledCurve replaces event times by one minus the Kaplan-Meier curve of all
// observations, strata together, just before them.
func (f *CoxFit) pooledCurve(g []float64) {
	distinct := slices.Compact(slices.Sorted(slices.Values(g)))
	risk, deaths := make([]float64, len(distinct)), make([]float64, len(distinct))
	place := func(t float64) int {
		i, _ := slices.BinarySearch(distinct, t)
		return i
	}
	for t, v := range g {
		deaths[place(v)] += f.index.deaths[t]
	}
	for _, r := range f.rows {
		at, found := slices.BinarySearch(distinct, r.Time)
		if found {
			at++
		}
		// At risk at the distinct times [entry, at): counted by differences.
		if at > 0 {
			risk[at-1] += r.Count
		}
		if !f.index.opt.LeftTruncated {
			continue
		}
		from, met := slices.BinarySearch(distinct, r.Entry)
		if met {
			from++
		}
		if from > 0 {
			risk[from-1] -= r.Count
		}
	}
	for i := len(risk) - 2; i >= 0; i-- {
		risk[i] += risk[i+1]
	}
	before, survival := make([]float64, len(distinct)), 1.0
	for i := range distinct {
		before[i] = 1 - survival
		survival *= 1 - deaths[i]/risk[i]
	}
	for t, v := range g {
		g[t] = before[place(v)]
	}
}

// coefPoints scales the Schoenfeld residuals by events times the covariance.
func (f *CoxFit) coefPoints(g []float64) []CoefPoint {
	cov, r := f.linear.toColumns(f.linear.covQ), f.risk
	var toColumns mat.Dense // a gradient in the basis becomes one in the columns
	if toColumns.Inverse(f.linear.basis.rinv) != nil {
		return nil
	}
	out := make([]CoefPoint, len(g))
	for t := range g {
		d := f.index.deaths[t]
		gap := mat.NewVecDense(r.m, nil)
		for k := range r.m {
			at := t*r.m + k
			gap.SetVec(k, (r.eventX[at]-r.one[t]*r.s1[at]+r.c[t]*r.d1[at])/d)
		}
		var inColumns mat.VecDense
		inColumns.MulVec(toColumns.T(), gap)
		coef := slices.Clone(f.Coef)
		for _, j := range f.linear.basis.kept {
			for k, i := range f.linear.basis.kept {
				coef[j] += f.Events * cov.At(j, i) * inColumns.AtVec(k)
			}
		}
		s := f.index.timeStratum[t]
		out[t] = CoefPoint{f.index.labels[s], f.index.times[t], g[t], d, coef}
	}
	return out
}
