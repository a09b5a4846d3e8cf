package review

import (
	"encoding/json"
	"fmt"
	"math"
	"slices"

	"afterfit/internal/stats"
)

// ReadFindings reads what pack --json printed and refuses anything else.
func ReadFindings(raw []byte) (*Findings, error) {
	var f Findings
	if err := json.Unmarshal(raw, &f); err != nil {
		return nil, fmt.Errorf("not the findings of a review: %w", err)
	}
	if err := f.check(); err != nil {
		return nil, err
	}
	return &f, nil
}

// check refuses what is no findings, or of another form.
func (f *Findings) check() error {
	if f.Schema == 0 || f.Fingerprint == "" || f.Headlines == nil {
		return fmt.Errorf("not the findings of a review: print them with 'afterfit pack --json'")
	}
	if f.Schema != SchemaVersion {
		return fmt.Errorf("these findings have form %d, this program reads form %d", f.Schema, SchemaVersion)
	}
	return nil
}

// movedLevel is the level at which a figure counts as moved: about ten figures are
// looked at, so 1 in 100 each.
const movedLevel = 0.99

const movedRule = "A figure has moved when it differs from the earlier one by more than new and late data alone would make it differ in 99 of 100 reviews. " +
	"The later review holds the earlier one's cases as well, so the standard error of the difference is the root of earlier variance less later variance; where new data has hardly narrowed the interval there is too little new to tell."

// Kinds of Moved.
const (
	kindMoved, kindSteady, kindUnknown = "moved", "steady", "unknown"
	kindAppeared, kindWent             = "appeared", "went"
	kindStronger, kindWeaker           = "stronger", "weaker"
)

// leastNarrower is by what share the variance must have fallen for a difference to be
// judged; below it the new data is too thin.
const leastNarrower = 0.05

// Compare sets findings beside an earlier review's of the same service.
func Compare(then, now *Findings) *Since {
	s := &Since{Fingerprint: then.Fingerprint, AsOf: then.AsOf, LastPeriod: then.Coverage.LastPeriod, Rule: movedRule,
		Figures: []Moved{}, Findings: []Moved{}, Units: []Moved{}, Late: []LateData{},
		NewCases: now.Coverage.Cases - then.Coverage.Cases, NewDentures: now.Coverage.Delivered - then.Coverage.Delivered}
	for _, h := range now.Headlines {
		i := slices.IndexFunc(then.Headlines, func(o Headline) bool { return o.Outcome == h.Outcome })
		if i >= 0 {
			s.Figures = append(s.Figures, Moved{ID: h.Outcome, Outcome: h.Outcome, Then: then.Headlines[i].Overall, Now: h.Overall, Kind: movedKind(then.Headlines[i].Overall, h.Overall)})
		}
	}
	s.Findings = compareFindings(then.Pairs, now.Pairs)
	s.Units = compareUnits(then.Units, now.Units)
	for _, t := range now.Times {
		if t.Dimension != "all" {
			continue
		}
		for _, o := range then.Times {
			if o.Dimension == "all" && o.Outcome == t.Outcome && o.Fineness == t.Fineness {
				s.Late = append(s.Late, lateData(o, t))
			}
		}
	}
	return s
}

// standardError is half the interval's width over its quantile, with the figure; on
// the log scale, on which the limits of positive figures were made, where asked for.
func standardError(e Estimate, logs bool) (at, se float64) {
	if e.TooFew != "" || !e.Value.Known() || !e.Low.Known() || !e.High.Known() || !(e.Level > 0 && e.Level < 1) {
		return math.NaN(), math.NaN()
	}
	z := stats.TwoSidedZ(e.Level)
	if logs {
		return math.Log(float64(e.Value)), math.Log(float64(e.High/e.Low)) / (2 * z)
	}
	return float64(e.Value), float64(e.High-e.Low) / (2 * z)
}

// movedKind applies the rule to one figure.
func movedKind(then, now Estimate) string {
	logs := then.Low > 0 && now.Low > 0
	a, seA := standardError(then, logs)
	b, seB := standardError(now, logs)
	if math.IsNaN(a) || math.IsNaN(b) || !(seA > 0) {
		return kindUnknown
	}
	variance := seA*seA - seB*seB
	switch {
	case variance < leastNarrower*seA*seA:
		return kindUnknown
	case math.Abs(b-a) > stats.TwoSidedZ(movedLevel)*math.Sqrt(variance):
		return kindMoved
	}
	return kindSteady
}

// compareFindings tells which pairs came to be clear, are no longer, or changed in
// strength while clear. Then and Now are ratios within clinicians; controls are left
// out.
func compareFindings(then, now []Pair) []Moved {
	before := map[string]Pair{}
	for _, p := range then {
		before[p.ID] = p
	}
	out := []Moved{}
	for _, p := range now {
		old, known := before[p.ID]
		was, is := known && old.Grade == Clear, p.Grade == Clear
		if p.Control || !was && !is {
			continue
		}
		m := Moved{ID: p.Habit, Outcome: p.Outcome, Now: p.Within.Ratio, Then: unknownEstimate(), Kind: kindAppeared}
		if known {
			m.Then = old.Within.Ratio
		}
		switch {
		case was && !is:
			m.Kind = kindWent
		case was:
			if m.Kind = movedKind(m.Then, m.Now); m.Kind == kindMoved {
				m.Kind = strength(m.Then, m.Now)
			}
		}
		out = append(out, m)
	}
	return out
}

// strength says whether a ratio went away from 1 or towards it.
func strength(then, now Estimate) string {
	if math.Abs(math.Log(float64(now.Value))) > math.Abs(math.Log(float64(then.Value))) {
		return kindStronger
	}
	return kindWeaker
}

func unknownEstimate() Estimate {
	return Estimate{Value: Num(math.NaN()), Low: Num(math.NaN()), High: Num(math.NaN())}
}

// compareUnits tells which units came to lie outside the 99.8 % limits, and which no
// longer do. ID is dimension and code.
func compareUnits(then, now []UnitTable) []Moved {
	type place struct{ outcome, dimension, code string }
	far := func(all []UnitTable) (map[place]UnitRatio, []place) {
		out := map[place]UnitRatio{}
		var order []place
		for _, t := range all {
			for _, u := range t.Units {
				k := place{t.Outcome, t.Dimension, u.Code}
				out[k], order = u, append(order, k)
			}
		}
		return out, order
	}
	before, _ := far(then)
	after, order := far(now)
	out := []Moved{}
	for _, k := range order {
		a, known := before[k]
		was, is := a.Flag == 2 || a.Flag == -2, after[k].Flag == 2 || after[k].Flag == -2
		if was == is {
			continue
		}
		m := Moved{ID: k.dimension + ":" + k.code, Outcome: k.outcome, Then: a.Ratio, Now: after[k].Ratio, Kind: kindAppeared}
		if !known {
			m.Then = unknownEstimate()
		}
		if was {
			m.Kind = kindWent
		}
		out = append(out, m)
	}
	return out
}

// lateData counts what came in for periods that the earlier review already charted.
func lateData(then, now TimeChart) LateData {
	l := LateData{Outcome: now.Outcome}
	for _, p := range then.Points {
		l.Dentures -= p.N
		l.Events -= p.Observed
		l.Then += p.Observed
	}
	for _, p := range now.Points {
		if n := len(then.Points); n > 0 && p.Period >= then.Points[0].Period && p.Period <= then.Points[n-1].Period {
			l.Dentures += p.N
			l.Events += p.Observed
		}
	}
	return l
}
