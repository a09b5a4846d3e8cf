package review

import (
	"fmt"
	"math"

	"afterfit/internal/stats"
)

// unitSum is what was observed and expected of a unit's dentures of which anything was due.
type unitSum struct {
	code        string
	n, patients int64
	observed    int64
	expected    float64
}

var unitDimensions = []string{"site", "clinician", "lab"}

// few says why a unit is not compared, "" when it is.
func (q *asker) few(u unitSum, phi float64) string {
	if s := q.tooFew(u.n); s != "" {
		return s
	}
	if e := u.expected / math.Max(1, phi); e < q.s.MinExpected {
		return fmt.Sprintf("Too few to tell: %.1f events expected (%.1f once patients’ scatter is allowed for), %g or more are needed.", u.expected, e, q.s.MinExpected)
	}
	return ""
}

// unitTables sets every unit beside its expectation.
func (q *asker) unitTables(fit *MixFit, m *mixExpected, checks map[groupKey]DataChecks) ([]UnitTable, error) {
	all := m.unitSums()
	var out []UnitTable
	for _, dimension := range unitDimensions {
		if len(all[dimension]) < 2 {
			continue // one alone stands apart from nobody
		}
		t, err := q.unitTable(fit, all[dimension])
		if err != nil {
			return nil, fmt.Errorf("%s of %ss: %w", fit.Model.Outcome, dimension, err)
		}
		t.Dimension = dimension
		for i := range t.Units {
			t.Units[i].Checks = checks[groupKey{dimension, t.Units[i].Code}]
		}
		out = append(out, t)
	}
	return out, nil
}

// unitTable compares the units of one dimension. Observed and expected events are
// divided by the dispersion of patients before any limit is drawn, which makes
// patients, not events, what chance plays with.
func (q *asker) unitTable(fit *MixFit, sums []unitSum) (UnitTable, error) {
	phi := math.Max(1, float64(fit.Model.Dispersion))
	t := UnitTable{Outcome: fit.Model.Outcome, Dispersion: Num(phi), Spread: Num(math.NaN()), TrueSpread: Num(math.NaN()), Query: "denture_words"}
	var kept []int
	var counts []stats.UnitCount
	for i, u := range sums {
		e, err := q.mixRatio(u.observed, u.expected, phi, u.n, "denture_words")
		if err != nil {
			return t, err
		}
		if e.TooFew = q.few(u, phi); e.TooFew == "" {
			kept, counts = append(kept, i), append(counts, stats.UnitCount{Observed: float64(u.observed), Expected: u.expected})
		}
		shrunk := e
		shrunk.Value, shrunk.Low, shrunk.High, shrunk.Method = Num(math.NaN()), Num(math.NaN()), Num(math.NaN()), shrunkMethod
		shrunk.Warnings = nil // of the exact limits
		t.Units = append(t.Units, UnitRatio{Code: u.code, Patients: u.patients, Expected: Num(u.expected), Ratio: e, Shrunk: shrunk, Z: Num(math.NaN())})
	}
	if len(kept) < 2 {
		return t, nil
	}
	thin, err := stats.Disperse(counts, phi)
	if err != nil {
		return t, err
	}
	if err := q.funnel(&t, thin, kept, phi); err != nil {
		return t, err
	}
	return t, q.shrinkUnits(&t, thin, kept, !fit.Saved)
}

const shrunkMethod = "gamma-Poisson shrinkage (Clayton & Kaldor 1987) of counts divided by the dispersion, credible limits"

// shrinkUnits pulls ratios towards the mean of all as far as their precision asks for.
func (q *asker) shrinkUnits(t *UnitTable, thin []stats.UnitCount, kept []int, calibrated bool) error {
	s, err := stats.ShrinkRatios(thin, stats.ShrinkOptions{Level: q.s.Level, FixMean: calibrated, Mean: 1})
	if err != nil {
		return err
	}
	t.TrueSpread = Num(math.Sqrt(s.Dispersion))
	for i, at := range kept {
		e := &t.Units[at].Shrunk
		e.Value, e.Low, e.High = Num(s.Units[i].Shrunk), Num(s.Units[i].Limits.Low), Num(s.Units[i].Limits.High)
	}
	return nil
}

// funnel places the units; the curve's limits are those of patients' chance alone.
func (q *asker) funnel(t *UnitTable, thin []stats.UnitCount, kept []int, phi float64) error {
	opt := stats.DefaultFunnel()
	opt.Target = 1
	plain, err := stats.RatioFunnel(thin, opt)
	if err != nil {
		return err
	}
	opt.Spread = stats.Multiplicative
	wide, err := stats.RatioFunnel(thin, opt)
	if err != nil {
		return err
	}
	t.Spread = Num(wide.Phi)
	low, high := math.Inf(1), 0.0
	for i, at := range kept {
		u := &t.Units[at]
		u.Z, u.Flag, u.FlagSpread = Num(plain.Points[i].Z), int(plain.Points[i].Flag), int(wide.Points[i].Flag)
		low, high = math.Min(low, float64(u.Expected)), math.Max(high, float64(u.Expected))
	}
	low, high = low*0.8, high*1.05
	const steps = 60
	for i := range steps + 1 {
		e := low + (high-low)*math.Pow(float64(i)/steps, 2) // denser where limits bend
		near, far := plain.Limits(e/phi, 0.95), plain.Limits(e/phi, 0.998)
		t.Curve = append(t.Curve, FunnelCurve{Num(e), Num(near.Low), Num(near.High), Num(far.Low), Num(far.High)})
	}
	return nil
}
